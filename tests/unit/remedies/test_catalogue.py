"""The catalogue: the general one, a shop's own laid over it, and what a wrong file is told."""

from pathlib import Path

import pytest

from pulsewright.errors import InputError
from pulsewright.remedies.catalogue import KINDS, general_catalogue, read_catalogue

HEAD = 'format = "pulsewright catalogue 1"\n'


def shop(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "shop.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    return path


def test_the_general_one_has_an_entry_for_what_a_workshop_can_change():
    kinds = {entry.kind for entry in general_catalogue().changes}
    assert kinds == set(KINDS)
    assert all(entry.minutes > 0.0 for entry in general_catalogue().changes)


def test_a_shop_changes_adds_and_leaves_out(tmp_path: Path):
    path = shop(
        tmp_path,
        "[change.plate]\nminutes = 7\nblocks = [0.3]\n[change.cone]\nuse = false\n"
        '[change.our-disc]\nkind = "disc"\ntitle = "our disc"\nopen = ["60 %"]\nminutes = 4\nstock = "owned"\n',
    )
    own = read_catalogue(path)
    plate, disc = own.change("plate"), own.change("our-disc")
    assert plate is not None
    assert disc is not None
    assert (plate.minutes, plate.values["blocks"]) == (7.0, (0.3,))
    assert plate.title == "plate near the pipe end"  # what the shop does not say stays
    assert own.change("cone") is None
    assert disc.values["open"] == (0.6,)
    assert own.change("muffler") == general_catalogue().change("muffler")


def test_a_kit_is_a_list_or_a_row_of_sizes(tmp_path: Path):
    own = read_catalogue(
        shop(tmp_path, '[change.main-jet]\nsizes = ["1.85 mm", "1,70 mm", "0.070 in"]\n')
    )  # fmt: skip
    assert own.kits["main-jet"] == pytest.approx((1.70e-3, 1.778e-3, 1.85e-3))
    assert general_catalogue().kits["main-jet"][:2] == pytest.approx((0.80e-3, 0.85e-3))


def test_without_a_kit_the_jets_in_step_go_too(tmp_path: Path):
    assert read_catalogue(shop(tmp_path, "[change.main-jet]\nuse = false\n")).change("jets-in-step") is None


@pytest.mark.parametrize(
    ("text", "what", "hint"),
    [
        ("[change.plate]\nminuts = 3\n", "unknown key 'minuts'", "did you mean minutes"),
        ("[chang.plate]\nminutes = 3\n", "unknown key 'chang'", "did you mean change"),
        ('[change.main-jet]\nsizes = ["1.85"]\n', "has no unit", "44 mm"),
        ("[change.plate]\nblocks = [1.4]\n", "allowed: 2 % to 95 %", ""),
        ('[change.x]\nkind = "plat"\n', "change.x.kind is 'plat'", "did you mean plate"),
        ('[change.x]\nkind = "plate"\ntitle = "x"\nblocks = [0.3]\n', "change.x.minutes is missing", "add minutes"),
        ("change = 3\n", "change is no table", "[change.NAME]"),
        ('[change.jets-in-step]\nkits = ["main-jet", "pilot"]\n', "'pilot' is no entry", "name two of them"),
        ('[change.plate]\nstock = "maybe"\n', "allowed: 'owned', 'to make', 'to buy'", ""),
    ],
)
def test_a_wrong_file_is_told_what_and_where(tmp_path: Path, text: str, what: str, hint: str):
    with pytest.raises(InputError) as raised:
        read_catalogue(shop(tmp_path, text))
    assert what in raised.value.what
    assert hint in (raised.value.hint or "")
    assert "shop.toml" in (raised.value.where or "")


def test_a_test_that_the_shop_leaves_out_is_still_known_by_name(tmp_path: Path):
    own = read_catalogue(shop(tmp_path, "[test.repeat]\nuse = false\n"))
    assert "repeat" not in {t.name for t in own.tests}
    assert own.test("repeat") == general_catalogue().test("repeat")

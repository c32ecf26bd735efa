"""Line numbers counted by eye in a text with every form that TOML has."""

from pulsewright.bench.toml_lines import line_numbers

TEXT = '''\
top = 1  # a comment with = and [ in it

[engine]
"quoted key" = "a # that is no comment"
bore = "96 mm"
[engine.valve]
long = """
[not.a.table]
x = 1
"""
[[carb]]
jet = 1
[carb.sub]
a = 1
[[carb]]
jet = { number = 1, means = 'x' }
route.1 = [
  { piece = "pipe", bends = [90,
    45] },  # } ]
  { piece = "end" },
]
last = \'\'\'it''s\'\'\'
'''


def test_lines_of_every_form():
    lines = line_numbers(TEXT)
    expected = {
        "top": 1, "engine": 3, "engine.quoted key": 4, "engine.bore": 5, "engine.valve": 6,
        "engine.valve.long": 7,
        "carb.1": 11, "carb.1.jet": 12, "carb.1.sub": 13, "carb.1.sub.a": 14, "carb.2": 15, "carb.2.jet": 16,
        "carb.2.jet.means": 16, "carb.2.route.1": 17,
        "carb.2.route.1.1.piece": 18, "carb.2.route.1.1.bends.1": 18,
        "carb.2.route.1.1.bends.2": 19,
        "carb.2.route.1.2": 20, "carb.2.route.1.2.piece": 20, "carb.2.last": 22,
    }  # fmt: skip
    assert {key: lines.get(key) for key in expected} == expected
    assert "not.a.table" not in lines
    assert not any(key.endswith("x") for key in lines)


def test_windows_line_ends_count_once():
    assert line_numbers("a = 1\r\n\r\n[b]\r\nc = 2\r\n")["b.c"] == 4

"""Words that shops put over their columns, by quantity, in several languages.

A word only proposes a meaning; the numbers decide (channel_naming.py). The lists are common practice,
no published source; they are matched folded: lower case, no accents, no punctuation.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

WORDS: dict[str, tuple[str, ...]] = {
    "time": (
        "time",
        "t",
        "seconds",
        "elapsed",
        "elapsed time",
        "zeit",
        "zeitstempel",
        "timestamp",
        "tijd",
        "temps",
        "tiempo",
        "tempo",
        "tid",
        "czas",
        "aika",
        "cas",
        "время",
    ),
    "engine_speed": (
        "rpm",
        "engine rpm",
        "engine speed",
        "n",
        "n engine",
        "rev",
        "revs",
        "crank speed",
        "crank rpm",
        "motordrehzahl",
        "drehzahl",
        "nmot",
        "n mot",
        "u min",
        "toeren",
        "toerental",
        "motortoerental",
        "regime",
        "regime moteur",
        "tr min",
        "regimen",
        "revoluciones",
        "giri",
        "giri motore",
        "regime motore",
        "varvtal",
        "motorvarvtal",
        "obroty",
        "otacky",
        "omdrejninger",
        "kierrosluku",
        "обороты",
    ),
    "roller_speed": (
        "roller speed",
        "roller",
        "roll",
        "roll speed",
        "drum",
        "drum speed",
        "speed",
        "road speed",
        "wheel speed",
        "vehicle speed",
        "v",
        "rolle",
        "rollengeschwindigkeit",
        "rollendrehzahl",
        "geschwindigkeit",
        "walze",
        "snelheid",
        "rolsnelheid",
        "rol",
        "vitesse",
        "rouleau",
        "velocidad",
        "rodillo",
        "velocita",
        "rullo",
        "hastighet",
        "rulle",
        "predkosc",
        "rolka",
        "rychlost",
        "скорость",
    ),
    "torque": (
        "torque",
        "engine torque",
        "wheel torque",
        "crank torque",
        "tq",
        "trq",
        "m",
        "md",
        "drehmoment",
        "moment",
        "motormoment",
        "koppel",
        "couple",
        "par",
        "par motor",
        "coppia",
        "vridmoment",
        "moment obrotowy",
        "tocivy moment",
        "vaantomomentti",
        "момент",
    ),
    "power": (
        "power",
        "engine power",
        "wheel power",
        "p",
        "pwr",
        "leistung",
        "radleistung",
        "motorleistung",
        "vermogen",
        "puissance",
        "potencia",
        "potenza",
        "effekt",
        "moc",
        "vykon",
        "teho",
        "horsepower",
        "мощность",
    ),
    "lambda": (
        "lambda",
        "lam",
        "lambda value",
        "lambdawert",
        "lmb",
        "lambda sensor",
        "equivalence lambda",
        "лямбда",
    ),
    "afr": (
        "afr",
        "a f",
        "air fuel",
        "air fuel ratio",
        "air fuel",
        "wideband",
        "kraftstoffverhaltnis",
        "luft kraftstoff",
        "richesse afr",
        "afr ratio",
    ),
    "head_temperature": (
        "head",
        "head temp",
        "head temperature",
        "cht",
        "cylinder head",
        "cylinder temp",
        "kopf",
        "kopftemperatur",
        "zylinderkopf",
        "zylinderkopftemperatur",
        "kop",
        "koptemperatuur",
        "culasse",
        "culata",
        "testa",
        "topp",
        "glowica",
        "engine temp",
        "motortemperatur",
    ),
    "air_temperature": (
        "air temp",
        "air temperature",
        "tair",
        "t air",
        "intake air",
        "iat",
        "inlet temp",
        "intake temp",
        "ambient temp",
        "ambient temperature",
        "room temp",
        "lufttemperatur",
        "luft",
        "ansaugluft",
        "lucht",
        "luchttemperatuur",
        "air",
        "temperature air",
        "aire",
        "aria",
    ),
    "exhaust_temperature": (
        "egt",
        "exhaust temp",
        "exhaust temperature",
        "exhaust gas temperature",
        "abgas",
        "abgastemperatur",
        "uitlaat",
        "echappement",
        "escape",
        "scarico",
    ),
    "oil_temperature": (
        "oil",
        "oil temp",
        "oil temperature",
        "ol",
        "oel",
        "oltemperatur",
        "oeltemperatur",
        "olie",
        "huile",
        "aceite",
        "olio",
    ),
    "air_pressure": (
        "baro",
        "barometer",
        "barometric",
        "baro pressure",
        "barometric pressure",
        "air pressure",
        "ambient pressure",
        "luftdruck",
        "luchtdruk",
        "pression",
        "presion",
        "pressione",
    ),
    "humidity": (
        "humidity",
        "relative humidity",
        "rh",
        "hum",
        "feuchte",
        "luftfeuchte",
        "luchtvochtigheid",
        "humidite",
        "humedad",
        "umidita",
    ),
    "throttle": ("throttle", "tps", "throttle position", "drosselklappe", "gas", "gaspedal", "gashendel"),
}


def fold(text: str) -> str:
    """Lower case, without accents and punctuation, single spaces."""
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("λ", "lambda"))
    plain = "".join(c for c in plain if not unicodedata.combining(c)).lower()
    return re.sub(r"[\W_]+", " ", plain).strip()


@lru_cache(maxsize=1)
def _index() -> dict[str, str]:
    return {fold(word): quantity for quantity, words in WORDS.items() for word in words}


def proposed_quantity(name: str) -> tuple[str | None, float]:
    """Quantity that a heading proposes and how sure the word alone is (0..1); (None, 0) where unknown."""
    text = re.sub(r"\s*\d+$", "", fold(name))
    index = _index()
    if text in index:
        return index[text], 0.6 if len(text) < 3 else 0.9
    known = [word for word in index if len(word) > 2 and re.search(rf"\b{re.escape(word)}\b", text)]
    if not known:
        return None, 0.0
    longest = max(known, key=len)
    rivals = {index[word] for word in known if word not in longest}
    return index[longest], 0.7 if rivals <= {index[longest]} else 0.4


def sensor_of(channel: str) -> tuple[str, str]:
    """Quantity and sensor of a channel as a person names it: "lambda:2" is the lambda of cylinder 2, "lambda:collector"
    that of all cylinders behind the join; others have the sensor ""."""
    quantity, _, sensor = channel.partition(":")
    return quantity.strip(), sensor.strip()


def is_channel(channel: str) -> bool:
    """Whether a person may name a channel so."""
    quantity, sensor = sensor_of(channel)
    return quantity in WORDS and (":" not in channel or (quantity == "lambda" and bool(sensor)))


def count_known_words(text: str) -> int:
    """How many words of a text are known column words; used to choose between code pages."""
    index = _index()
    return sum(word in index for word in fold(text).split() if len(word) > 2)

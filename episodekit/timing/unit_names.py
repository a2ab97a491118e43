"""Names of units and money as they are spoken: symbol to (singular, plural).

Names are those of the SI brochure and CLDR (the tests compare them), but for what nobody says at a bench:
amps instead of amperes, degrees instead of degrees Celsius, revs instead of revolutions, and "a second"
instead of "per second". Those are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

Name = tuple[str, str]

# SI brochure, 9th edition, table 7. `u` is what a keyboard has for micro.
_PREFIXES = {
    "p": "pico",
    "n": "nano",
    "u": "micro",
    "µ": "micro",
    "μ": "micro",
    "m": "milli",
    "c": "centi",
    "d": "deci",
    "k": "kilo",
    "M": "mega",
    "G": "giga",
    "T": "tera",
}

# Symbol, singular, plural, and the prefixes it is used with at a bench.
_BASES = (
    ("V", "volt", "volts", "nuµμmkM"),
    ("A", "amp", "amps", "pnuµμmk"),
    ("W", "watt", "watts", "nuµμmkMG"),
    ("VA", "volt amp", "volt amps", "k"),
    ("Wh", "watt hour", "watt hours", "mkM"),
    ("Ah", "amp hour", "amp hours", "m"),
    ("Ohm", "ohm", "ohms", "uµμmkMG"),
    ("ohm", "ohm", "ohms", "mkMG"),
    ("Ω", "ohm", "ohms", "uµμmkMG"),  # Greek capital omega
    ("\u2126", "ohm", "ohms", "uµμmkMG"),  # the ohm sign
    ("F", "farad", "farads", "pnuµμm"),
    ("H", "henry", "henries", "nuµμm"),
    ("Hz", "hertz", "hertz", "mkMG"),
    ("J", "joule", "joules", "mkM"),
    ("N", "newton", "newtons", "mk"),
    ("Nm", "newton metre", "newton metres", "mc"),
    ("Pa", "pascal", "pascals", "mkM"),
    ("bar", "bar", "bars", "m"),
    ("m", "metre", "metres", "nuµμmcdk"),
    ("m²", "square metre", "square metres", "mck"),
    ("m³", "cubic metre", "cubic metres", "mc"),
    ("g", "gram", "grams", "uµμmk"),
    ("l", "litre", "litres", "uµμmcd"),
    ("L", "litre", "litres", "uµμm"),
    ("s", "second", "seconds", "nuµμm"),
    ("lm", "lumen", "lumens", ""),
    ("lx", "lux", "lux", "k"),
    ("bit", "bit", "bits", "kMG"),
    ("B", "byte", "bytes", "kMGT"),
    ("dB", "decibel", "decibels", ""),
)

# Used without a prefix, or not built like one.
_OTHERS = {
    "%": ("per cent", "per cent"),
    "°C": ("degree", "degrees"),
    "C": ("degree", "degrees"),
    "°F": ("degree Fahrenheit", "degrees Fahrenheit"),
    "°": ("degree", "degrees"),
    "dBA": ("decibel", "decibels"),
    "dB(A)": ("decibel", "decibels"),
    "dBm": ("D B M", "D B M"),
    "min": ("minute", "minutes"),
    "h": ("hour", "hours"),
    "hr": ("hour", "hours"),
    "hrs": ("hour", "hours"),
    "sec": ("second", "seconds"),
    "secs": ("second", "seconds"),
    "mins": ("minute", "minutes"),
    "rpm": ("rev a minute", "revs a minute"),
    "mph": ("mile an hour", "miles an hour"),
    "fps": ("frame a second", "frames a second"),
    "wpm": ("word a minute", "words a minute"),
    "ppm": ("part per million", "parts per million"),
    "psi": ("P S I", "P S I"),
    "px": ("pixel", "pixels"),
    "Mbps": ("megabit a second", "megabits a second"),
    "Gbps": ("gigabit a second", "gigabits a second"),
    "kbps": ("kilobit a second", "kilobits a second"),
    "KB": ("kilobyte", "kilobytes"),
    "MiB": ("mebibyte", "mebibytes"),
    "GiB": ("gibibyte", "gibibytes"),
    "mm2": ("square millimetre", "square millimetres"),
    "cm2": ("square centimetre", "square centimetres"),
    "m2": ("square metre", "square metres"),
    "AWG": ("gauge", "gauge"),
    "ft": ("foot", "feet"),
    "lb": ("pound", "pounds"),
    "lbs": ("pound", "pounds"),
    "oz": ("ounce", "ounces"),
    "k": ("K", "K"),
    "K": ("K", "K"),
    "x": ("times", "times"),
    "×": ("times", "times"),
}


def _name(prefix: str, base: str) -> str:
    """SI brochure, section 3: kilohm and megohm lose a vowel; "square" and "cubic" stand before the prefix."""
    kind, _, unit = base.rpartition(" ")
    if kind in {"square", "cubic"}:
        return f"{kind} {prefix}{unit}"
    if base.startswith("ohm") and prefix in {"kilo", "mega"}:
        return f"{prefix[:-1]}{base}"
    return f"{prefix}{base}"


def _all_units() -> dict[str, Name]:
    units: dict[str, Name] = {}
    for symbol, one, many, prefixes in _BASES:
        units[symbol] = (one, many)
        for sign in prefixes:
            prefix = _PREFIXES[sign]
            units[sign + symbol] = (_name(prefix, one), _name(prefix, many))
    return units | _OTHERS


UNITS: Mapping[str, Name] = _all_units()

# Main unit and hundredth. CLDR's English names without the country, as one says them at home.
MONEY: Mapping[str, tuple[Name, Name]] = {
    "AUD": (("dollar", "dollars"), ("cent", "cents")),
    "CAD": (("dollar", "dollars"), ("cent", "cents")),
    "CHF": (("franc", "francs"), ("centime", "centimes")),
    "CZK": (("koruna", "korunas"), ("haler", "halers")),
    "DKK": (("krone", "kroner"), ("ore", "ore")),
    "EUR": (("euro", "euros"), ("cent", "cents")),
    "GBP": (("pound", "pounds"), ("penny", "pence")),
    "INR": (("rupee", "rupees"), ("paisa", "paise")),
    "JPY": (("yen", "yen"), ("sen", "sen")),
    "NOK": (("krone", "kroner"), ("ore", "ore")),
    "NZD": (("dollar", "dollars"), ("cent", "cents")),
    "PLN": (("zloty", "zlotys"), ("grosz", "groszy")),
    "SEK": (("krona", "kronor"), ("ore", "ore")),
    "USD": (("dollar", "dollars"), ("cent", "cents")),
}
SIGNS: Mapping[str, str] = {"$": "USD", "€": "EUR", "£": "GBP", "¥": "JPY"}

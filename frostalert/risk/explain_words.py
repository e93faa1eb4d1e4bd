"""Name, unit, formula and source of every step of an explanation; a table, no code."""

PSYCHROMETER = "AMS Glossary of Meteorology, psychrometric formula"
PRACTICE = "common practice, no source"

# key -> name, unit, formula, source
WORDS: dict[str, tuple[str, str, str, str]] = {
    "grid": (
        "grid air at that hour",
        "degC",
        "hourly value of the forecast",
        "{title}, cell {place}",
    ),
    "night minimum": (
        "bent to the night minimum",
        "delta_degC",
        "T' = T - d (M - T) / (M - low); all hours alike when windy",
        "derivation; the night minimum of {origin}",
    ),
    "usual deficit": (
        "in place of a night minimum that was not sent",
        "delta_degC",
        "-0.56 at the trough, spread as a night minimum is",
        "usual on recorded nights; {origin}",
    ),
    "weight": (
        "clear-and-calm weight",
        "1",
        "calm x open sky x darkness",
        "FAO, Frost Protection vol. 1, p. 160; ramps common practice",
    ),
    "lapse": (
        "lapse to the site's height",
        "delta_degC",
        "-0.0065 per m x height above the cell x (1 - weight)",
        "ICAO Standard Atmosphere",
    ),
    "cold spot": (
        "cold spot",
        "delta_degC",
        "the block's own offset x weight",
        "your configuration",
    ),
    "ground": (
        "near the ground",
        "delta_degC",
        "-2 x weight for plants up to 0.5 m, unless measured there",
        "common practice, no source; Fairbanks Museum, 2024: 4 degF",
    ),
    "learned": (
        "learned from this site",
        "delta_degC",
        "observed less forecast on this site's nights, x darkness",
        "{origin}",
    ),
    "pooled": (
        "moved to what all sources say together",
        "delta_degC",
        "mean of the corrected lows; from 3 degC of spread on nearer to the coldest, x "
        "darkness",
        "{origin}",
    ),
    "reading": (
        "lowered by a thermometer's reading",
        "delta_degC",
        "reading less forecast, fading in 6 h; on clear calm nights the cooling curve",
        "{origin}",
    ),
    "nowcast": (
        "by what past cooling curves missed here",
        "delta_degC",
        "mean error x n / (n + 4), x the part of the way to sunrise that lies ahead; "
        "warmer ones from ten nights, by half",
        "{origin}",
    ),
    "air": ("air among the plants", "degC", "sum of the above", "site {site}"),
    "doubtful": (
        "doubtful",
        "delta_degC",
        "corrections beyond {limit:g} degC in all",
        "is one cold counted twice? Look at cold_spot and height",
    ),
    "dew point": (
        "dew point",
        "degC",
        "the forecast's, never above the air",
        "{title}",
    ),
    "pressure": (
        "pressure",
        "hPa",
        "1013.25 (1 - 2.25577e-5 h)^5.25588",
        "ICAO Standard Atmosphere",
    ),
    "wet bulb": (
        "wet bulb at that hour",
        "degC",
        "e(Td) = es(Tw) - 6.60e-4 p (T - Tw)",
        PSYCHROMETER,
    ),
    "ice bulb": (
        "ice bulb at that hour",
        "degC",
        "e(Td) = ei(Ti) - 5.82e-4 p (T - Ti), at most the air",
        PSYCHROMETER,
    ),
    "deficit": (
        "deficit of dry tissue",
        "delta_degC",
        "half the clear-sky loss over the heat exchange",
        "FAO-56 eq. 39; Campbell and Norman 1998 (from memory)",
    ),
    "deficit counted": (
        "deficit of dry tissue beyond the cold spot's",
        "delta_degC",
        "a bud's is in a cold_spot from a thermometer open to the sky; a leaf's rest",
        "your configuration",
    ),
    "dry": (
        "dry bud at that hour",
        "degC",
        "air less the deficit, shrunk where dew or hoar forms",
        "derivation",
    ),
    "wet": (
        "wet bud at that hour",
        "degC",
        "wet bulb, or ice bulb below 0, less {share:g} of the deficit",
        PRACTICE,
    ),
    "dry low": (
        "dry bud low",
        "degC",
        "coldest mean over {minutes:.0f} minutes of the night",
        "exposure of the published tables",
    ),
    "wet low": (
        "wet bud low",
        "degC",
        "coldest mean over {minutes:.0f} minutes of the night",
        "exposure of the published tables",
    ),
    "wet chance": (
        "chance that buds are wet",
        "%",
        "rain or snow not yet dried, or dew and hoar",
        "derivation; 0.1 mm film and 1.5 degC common practice",
    ),
    "deciding": ("the {deciding} bud decides", "degC", "{why}", PRACTICE),
    "stage": ("stage {stage}", "", "{stage_reason}", "your configuration"),
    "t10": ("10 % kill", "degC", "tissue, {minutes:.0f} minutes", "{threshold}"),
    "t90": ("90 % kill", "degC", "tissue, {minutes:.0f} minutes", "{threshold}"),
    "alarm": ("alarm temperature", "degC", "{alarm_name}", "{threshold}"),
    "sigma": (
        "error against the alarm temperature",
        "delta_degC",
        "sqrt(error of the low^2 + threshold's^2)",
        PRACTICE,
    ),
    "low sigma": (
        "error of the low",
        "delta_degC",
        "sqrt(sources'^2 + site's^2); sources' {sources:.2f} degC, site's "
        "{site:.2f} degC",
        "eight US airports, November 2025 to May 2026: Open-Meteo and US National "
        "Weather Service against the analysed low; the site's common practice, no "
        "source",
    ),
    "probability": (
        "chance of reaching the alarm temperature",
        "%",
        "Phi((alarm - low) / error)",
        "normal distribution",
    ),
    "kill dry": (
        "kill at the dry low",
        "%",
        "1 / (1 + exp(ln 81 / (T10 - T90) (T - (T10 + T90) / 2)))",
        "derivation through the two published points",
    ),
    "kill wet": (
        "kill at the wet low",
        "%",
        "as above",
        "derivation through the two published points",
    ),
    "expected": (
        "expected kill",
        "%",
        "mean of the curve over the error",
        "trapezoidal rule, 81 nodes",
    ),
    "crop": (
        "expected loss of crop",
        "%",
        "{needed:.0f} % of blossoms needed, {left:.0f} % left before",
        "{needed_source}",
    ),
}

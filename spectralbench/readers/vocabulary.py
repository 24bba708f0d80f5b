"""The words of the trade by which files name columns, units and what stands above a table.

English, German, French, Spanish, Italian, Portuguese, Dutch, Polish and Swedish; all of them
folded as `spectralbench.readers.headings.normal` folds a name.
"""

from __future__ import annotations

AXES: dict[str, tuple[str, ...]] = {
    "wavelength": (
        *("wavelength", "wavelengths", "wave length", "lambda", "λ", "wl", "wlen", "nm"),
        *("wavelength in air", "air wavelength", "wavelength (air)", "wellenlänge in luft"),
        *("wavelength in vacuum", "vacuum wavelength", "wavelength (vacuum)", "wavelength in vacuo"),
        *("wellenlänge im vakuum", "vakuumwellenlänge", "wellenlänge (vakuum)"),
        *("wellenlänge", "wellenlaenge", "longueur d'onde", "longueur d onde", "longueurs d'onde"),
        *("longitud de onda", "lunghezza d'onda", "lunghezza d onda", "comprimento de onda"),
        *("golflengte", "długość fali", "våglängd"),
    ),
    "time": (
        *("time", "elapsed time", "date time", "datetime", "date", "timestamp", "time stamp"),
        *("date/time", "date and time", "clock", "zeit", "datum", "uhrzeit", "zeitstempel", "datum/zeit"),
        *("messzeit", "zeitpunkt", "datum und zeit", "datum/uhrzeit", "temps", "heure", "date et heure"),
        *("tiempo", "fecha", "hora", "fecha y hora", "tempo", "ora", "data e ora", "data e hora"),
        *("tijd", "tijdstip", "datum en tijd", "czas", "godzina", "data i czas", "tid", "tidpunkt"),
    ),
    "hours": (
        *("hours", "hour", "operating hours", "burning hours", "hours of use", "betriebsstunden"),
        *("brennstunden", "heures", "heures de fonctionnement", "horas", "horas de funcionamiento"),
        *("horas de funcionamento", "ore di funzionamento", "branduren", "bedrijfsuren"),
        *("godziny pracy", "drifttimmar"),
    ),
    "position": (
        *("position", "stage position", "scan position", "pos", "pos.", "posición", "posizione"),
        *("posição", "positie", "pozycja", "läge"),
    ),
}

QUANTITIES: dict[str, tuple[str, ...]] = {
    "counts": (
        *("counts", "count", "raw counts", "raw signal", "adu", "dn", "zählimpulse", "zählwerte"),
        *("coups", "nombre de coups", "cuentas", "conteggi", "contagens", "tellingen", "zliczenia"),
    ),
    "signal": ("signal", "counts per second", "counts/s", "count rate", "cps", "zählrate"),
    "spectral_irradiance": (
        *("spectral irradiance", "spektrale bestrahlungsstärke", "e λ", "eλ", "e lambda"),
        *("éclairement énergétique spectrique", "éclairement énergétique spectral", "irradiancia espectral"),
        *("irradianza spettrale", "irradiância espectral", "spectrale irradiantie"),
        *("spectrale bestralingssterkte", "widmowe natężenie napromienienia", "spektral irradians"),
    ),
    "transmittance": (
        *("transmittance", "transmission", "spectral transmittance", "t", "τ", "%t", "% t", "t%"),
        *("transmissionsgrad", "facteur de transmission", "transmitancia", "trasmittanza"),
        *("transmitância", "transmissie", "transmittantie", "transmitancja", "transmittans"),
    ),
    "absorbance": (
        *("absorbance", "decadic absorbance", "optical density", "od", "abs", "abs.", "extinktion"),
        *("absorbanz", "absorbancia", "assorbanza", "absorbância", "absorbantie", "extinctie"),
        *("absorbancja", "absorbans"),
    ),
    "reflectance": (
        *("reflectance", "reflection", "r", "%r", "% r", "reflexionsgrad", "réflectance"),
        *("facteur de réflexion", "reflectancia", "riflettanza", "refletância", "reflectantie"),
        *("reflektancja", "reflektans"),
    ),
    "responsivity": ("responsivity",),
    "molar_absorption_coefficient": (
        *("molar absorption coefficient", "molar extinction coefficient", "molar absorptivity"),
        *("ε", "epsilon"),
    ),
    "irradiance": (
        *(
            "irradiance",
            "dose rate",
            "bestrahlungsstärke",
            "éclairement énergétique",
            "irradiancia",
            "irradianza",
        ),
        *("irradiância", "irradiantie", "bestralingssterkte", "natężenie napromienienia", "irradians"),
    ),
    "radiant_exposure": (
        *("radiant exposure", "dose", "energy density", "bestrahlung", "exposition énergétique"),
        *("exposición radiante", "esposizione radiante", "exposição radiante", "bestralingsdosis"),
        "napromienienie",
    ),
    "photon_irradiance": ("photon irradiance", "photon flux density"),
    "relative_output": (
        *("relative output", "output relative to new", "relative leistung", "puissance relative"),
        *("potencia relativa", "potenza relativa", "potência relativa", "relatief vermogen"),
        *("moc względna", "relativ effekt"),
    ),
}

COUNTING: tuple[str, ...] = (
    *("counts", "count", "cts", "adu", "dn", "lsb", "digits", "coups", "cuentas", "conteggi"),
    *("contagens", "tellingen", "zliczenia", "impulse", "impulser"),
)

UNITS: dict[str, str] = {
    **dict.fromkeys(("", "-", "–", "1", "dimensionless", "parts", "fraction", "rel.", "relative"), "1"),
    **dict.fromkeys(("a.u.", "au", "arb. units", "arb.units", "arb. u.", "arb.u.", "arbitrary units"), "1"),
    **dict.fromkeys(("rel. units", "relative units", "rel. einheiten", "relative einheiten"), "1"),
    **dict.fromkeys(("willkürliche einheiten", "w. e.", "unités arbitraires", "u.a.", "u. a."), "1"),
    **dict.fromkeys(("unidades arbitrarias", "unità arbitrarie", "unidades arbitrárias"), "1"),
    **dict.fromkeys(("willekeurige eenheden", "w.e.", "jednostki umowne", "godtyckliga enheter"), "1"),
    **dict.fromkeys(COUNTING, "1"),
    **dict.fromkeys(("nm", "nanometer", "nanometers", "nanometre", "nanometres", "nanomètre"), "nm"),
    **dict.fromkeys(("nanomètres", "nanómetro", "nanómetros", "nanometro", "nanometri", "nanômetro"), "nm"),
    **dict.fromkeys(("nanômetros", "nanometr", "nanometry"), "nm"),
    **dict.fromkeys(("counts/s", "cps", "1/s", "s-1", "coups/s", "cts/s"), "s-1"),
    **dict.fromkeys(("å", "a", "ang", "ang.", "angstrom", "angstroms", "ångström"), "angstrom"),
    **dict.fromkeys(("micron", "microns", "micrometer", "micrometre"), "µm"),
    **dict.fromkeys(("s", "sec", "sec.", "secs", "second", "seconds", "sek", "sek.", "sekunden"), "s"),
    **dict.fromkeys(("secondes", "segundos", "secondi", "seconden", "sekundy", "sekunder"), "s"),
    **dict.fromkeys(("min", "min.", "mins", "minutes", "minuten", "minutos", "minuti", "minuty"), "min"),
    "minuter": "min",
    **dict.fromkeys(("ms", "msec", "milliseconds"), "ms"),
    **dict.fromkeys(("h", "hr", "hrs", "hours", "stunden", "std", "std.", "heures", "horas"), "h"),
    **dict.fromkeys(("ore", "uren", "uur", "godziny", "timmar"), "h"),
    **dict.fromkeys(("percent", "per cent", "%", "pct", "prozent", "pour cent", "pourcent"), "%"),
    **dict.fromkeys(("por ciento", "por cento", "per cento", "percento", "procent"), "%"),
}

# What numbers the rows, or is another scale of the axis: never values.
NUMBERING: tuple[str, ...] = (
    *("pixel", "pixels", "px", "index", "no", "no.", "nr", "nr.", "number", "row", "line", "point"),
    *("point no", "point number", "pixel number", "pixel no", "reading no", "#", "zeile"),
    *("pixelnummer", "numéro", "número", "numero", "nummer", "numer", "lp.", "n°"),
)
NUMBERED: tuple[str, ...] = (  # what the first column may number instead of holding wavelengths
    *("item", "sample", "scan", "spectrum", "measurement", "reading", "record", "run", "messung", "probe"),
    "mesure",
    *("échantillon", "medición", "muestra", "misura", "campione", "medição", "amostra", "meting", "monster"),
    *("pomiar", "próbka", "mätning", "prov"),
)
AGAINST_WAVELENGTH: dict[str, tuple[str, ...]] = {  # words of a heading, by what it holds
    "wavenumber": ("wavenumber", "wavenumbers", "wn", "wellenzahl", "nombre d'onde", "número de onda"),
    "frequency": ("frequency", "frequenz", "fréquence", "frecuencia", "frequenza", "frequência"),
    "energy": ("energy", "photon energy", "photonenergie", "énergie", "energía", "energia", "energie"),
    "difference": ("shift", "offset", "verschiebung", "versatz", "décalage", "desplazamiento", "detuning"),
    "time": ("retention time", "retentionszeit", "temps de rétention"),
    "other": ("m/z", "mass/charge", "2theta", "2θ", "two theta"),
}
X_AXIS: tuple[str, ...] = (  # keys of a header that say what the first column holds
    *("x", "axis", "x axis", "x-axis", "xaxis", "x label", "xlabel", "x quantity", "abscissa"),
    *("x unit", "x units", "xunit", "xunits", "axis unit", "axis units", "x axis unit", "x axis units"),
)
OTHER_SCALES = ("wavenumber", "energy", "photon energy", "frequency", "wellenzahl", "nombre d'onde")

TEXTS: dict[str, tuple[str, ...]] = {  # columns of text beside the readings of a log
    "channel": ("channel", "chan", "ch", "ch.", "kanal", "canal", "canale", "voie", "kanaal", "kanał"),
    "band": (
        *("band", "spectral band", "band limits", "spectral range", "bandgrenzen", "spektralbereich"),
        *("bande", "bande spectrale", "banda", "banda espectral", "banda spettrale", "pasmo"),
    ),
    "head": (
        *("head", "sensor head", "measuring head", "detector head", "messkopf", "tête de mesure"),
        *("cabezal", "testa di misura", "cabeça de medição", "meetkop", "głowica", "mäthuvud"),
    ),
    "remark": (
        *("remark", "remarks", "comment", "comments", "note", "notes", "bemerkung", "kommentar"),
        *("remarque", "commentaire", "observación", "comentario", "nota", "commento", "osservazione"),
        *("observação", "comentário", "opmerking", "uwaga", "uwagi", "anmärkning"),
    ),
}
BAND_LIMITS = {"band_low": ("band low", "lower band limit"), "band_high": ("band high", "upper band limit")}
CALIBRATION_DATE: tuple[str, ...] = (
    *("calibration date", "date of calibration", "calibrated", "calibrated on"),
    *("last calibration", "kalibrierdatum", "kalibriert am", "date d'étalonnage"),
    *("fecha de calibración", "data di taratura", "data de calibração", "kalibratiedatum"),
    *("data kalibracji", "kalibreringsdatum"),
)
RESPONSE_CURVE: tuple[str, ...] = (
    *("response curve", "spectral response", "response file", "empfindlichkeitskurve"),
    *("courbe de réponse", "curva de respuesta", "curva di risposta", "curva de resposta"),
    *("responscurve", "krzywa czułości", "responskurva"),
)

# Beside the name of a quantity they make another quantity of it; all other words are labels.
CHANGING: tuple[str, ...] = (
    *("napierian", "naperian", "natural", "base e", "internal", "loss", "change", "delta", "Δ", "derivative"),
    *("per", "squared", "cubed", "normalised", "normalized", "relative", "maximum", "minimum", "max", "min"),
    *("dark subtracted", "dark corrected", "subtracted", "minus", "net", "difference", "differential"),
    *("ratio", "inverse", "reciprocal", "integrated", "cumulative"),
    *("napierisch", "napiersche", "natürlich", "natürliche", "verlust", "änderung", "ableitung", "normiert"),
    *("normierte", "normalisiert", "relativ", "differenz", "verhältnis", "dunkelkorrigiert", "interne"),
    *("népérienne", "perte", "dérivée", "normalisé", "normalisée", "différence", "interna", "pérdida"),
    *("diferencia", "normalizado", "normalizada", "perdita", "normalizzato", "normalizzata", "differenza"),
)

LABELLING: tuple[str, ...] = (
    *("sample", "samples", "name", "label", "spectrum", "scan", "title", "probe", "bezeichnung"),
    *("échantillon", "nom", "muestra", "nombre", "campione", "nome", "amostra", "monster"),
    *("próbka", "prov"),
)
UNIT_WORDS: tuple[str, ...] = (
    *("unit", "units", "einheit", "einheiten", "unité", "unités", "unidad", "unidades", "unità"),
    *("unidade", "eenheid", "jednostka", "enhet"),
)

UNCERTAINTIES: dict[str, tuple[str, ...]] = {
    "standard": (
        *("standard uncertainty", "std uncertainty", "std. uncertainty", "std unc", "standardunsicherheit"),
        *("incertitude-type", "incertitude type", "incertidumbre típica", "incertezza tipo"),
        *("incerteza padrão", "standaardonzekerheid", "niepewność standardowa", "standardosäkerhet"),
    ),
    "deviation": (
        *("std", "std.", "stdev", "std dev", "std. dev.", "stddev", "standard deviation", "sd", "sigma", "σ"),
        *("standardabweichung", "écart-type", "écart type"),
    ),
    "unclear": (
        *("±", "+/-", "+-", "error", "err", "err.", "uncertainty", "expanded uncertainty", "unsicherheit"),
        *("erweiterte unsicherheit", "fehler", "erreur", "incertitude", "incertidumbre", "incertezza"),
        *("incerteza", "onzekerheid", "niepewność", "osäkerhet"),
    ),
}

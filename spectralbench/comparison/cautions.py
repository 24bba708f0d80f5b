"""The usual cautions on light, lamps and resins."""

CAUTIONS = (
    "Ultraviolet and visible light of this strength injures eyes and skin, often before it is felt; how "
    "bright it looks does not show the hazard. Enclose or shield the beam, mind reflections, interlock "
    "covers, and wear eye, face and skin protection rated for the band.",
    "Arc lamps hold mercury under pressure and run hot: let them cool, vent short-wave lamps for ozone, and "
    "give broken or spent lamps to licensed disposal.",
    "Uncured resins sensitise: wear gloves, avoid skin contact, and follow the safety data sheet.",
    "This is an estimate to plan tests with. It is no safety classification and no proof of a cure: local "
    "codes, the makers' instructions and a qualified person decide.",
)
"""What belongs beside every result that somebody may act on."""

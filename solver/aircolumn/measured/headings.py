"""Headings of logs in German, French, Italian and Spanish, as labs and loggers write them (common practice,
no source). Regular expressions on plain words: small letters, no accents, signs as blanks."""

OTHER_LANGUAGES = {
    "pull": r"(lauf|messung|messreihe|essai|prova|ensayo)( (nr|no|n))?",
    "time": r"(mess)?zeit|temps|tempo|tiempo",
    "rpm": (
        r"(motor)?drehzahl( motor)?|n motor|motor n|u min|regime( moteur| motore)?"
        r"|vitesse( de rotation| moteur)?|tr min|giri( motore| min)?|numero di giri|velocita( motore)?"
        r"|regimen( motor)?|velocidad( motor)?"
    ),
    "torque": (
        r"(motor|brems)?(dreh)?moment( motor| korr\w*)?|couple( moteur| corr\w*)?|coppia( motore| corr\w*)?"
        r"|par( motor| corr\w*)?"
    ),
    "power": (
        r"(motor|brems)?leistung( motor| korr\w*)?|puissance( moteur| corr\w*)?|potenza( motore| corr\w*)?"
        r"|potencia( motor| corr\w*)?"
    ),
    "air_fuel_ratio": (
        r"luft kraftstoff( verhaltnis)?|rapport air (carburant|essence)"
        r"|rapporto aria (carburante|benzina)"
    ),
    "fuel_flow": (
        r"kraftstoff(verbrauch|massen?strom|strom)?|(debit|consommation)( de)? (carburant|essence)"
        r"|(portata|consumo)( di)? (carburante|benzina)|consumo( de)? combustible"
    ),
    "air_flow": (
        r"luft(massen?|volumen)?(strom|durchsatz|menge|masse)|debit( d)? air|portata( d)? aria"
        r"|caudal( de)? aire"
    ),
    "spark": (
        r"(zund|vorzund)(winkel|zeitpunkt|ung)|avance( a l)?( allumage)?|anticipo( accensione)?"
        r"|avance( de)? encendido"
    ),
    "coolant": (
        r"(kuhl(wasser|mittel)?|wasser) ?(temp(eratur)?)?|t (wasser|kuhlmittel|eau|acqua)"
        r"|temp(erature)?( d| de l)? eau|temp(eratura)?( d| dell)? acqua|temp(eratura)?( del)? agua"
    ),
    "oil": (
        r"ol ?temp(eratur)?|t (ol|huile|olio)|temp(erature)?( d)? huile"
        r"|temp(eratura)?( dell?)? (olio|aceite)"
    ),
    "inlet_air": (
        r"(ansaug)?luft ?temp(eratur)?|ansaug(luft)?temp(eratur)?|t (luft|ansaug|air|aria)"
        r"|temp(erature)?( d)? (air|admission)|temp(eratura)?( d| dell)? aria|temp(eratura)?( del)? aire"
    ),
    "barometer": (
        r"luftdruck|umgebungsdruck|barometer(stand)?|p (luft|umg\w*)|pression (atmospherique|barometrique)"
        r"|pressione (atmosferica|barometrica|ambiente)|presion (atmosferica|barometrica)"
    ),
    "humidity": (
        r"(rel(ative)? )?(luft)?feucht(e|igkeit)|humidite( relative)?|umidita( relativa)?"
        r"|humedad( relativa)?"
    ),
    "throttle": r"drosselklappe(n ?(stellung|winkel))?|(position )?papillon|farfalla|mariposa",
}

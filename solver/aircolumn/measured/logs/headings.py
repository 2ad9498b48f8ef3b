"""Headings of logs in German, French, Italian, Spanish, Portuguese, Dutch, Swedish, Polish, Czech, Danish,
Norwegian, Finnish, Turkish and Hungarian, as labs and loggers write them (common practice, no source).
Regular expressions on plain words: small letters, no accents, signs as blanks."""

OTHER_LANGUAGES = {
    "pull": (
        r"(mereni|maling|mittaus|olcum|meres)( (nr|no|n))?|"
        r"(lauf|messung|messreihe|essai|prova|ensayo|ensaio|medicao|meting|run|korning|matning|pomiar|proba)"
        r"( (nr|no|n))?"
    ),
    "time": r"(mess)?zeit|temps|tempo|tiempo|tijd|tid|czas|uhrzeit|heure|ora|hora|cas|aika|zaman|ido"
    r"|time ?stamp|datum uhrzeit|date time|clock",
    "rpm": (
        r"otacky( motoru)?|omdrej(ninger|ningstal)|turtall?|omdr min|kierros(luku|nopeus)|motor devri"
        r"|devir|fordulatszam|"
        r"(motor)?drehzahl( motor)?|n motor|motor n|u min|regime( moteur| motore)?"
        r"|vitesse( de rotation| moteur)?|tr min|giri( motore| min)?|numero di giri|velocita( motore)?"
        r"|regimen( motor)?|velocidad( motor)?|rotacao( do motor| motor)?|regime (do )?motor"
        r"|velocidade( motor)?"
        r"|(motor)?toeren(tal)?|(motor)?varvtal|varv min|obroty( silnika)?|predkosc( obrotowa)?"
        r"|rpm (motor|moteur|motore)"
    ),
    "torque": (
        r"(tocivy )?moment|drejningsmoment|dreiemoment|vaantomomentti|vaanto|tork|nyomatek|forgatonyomatek|"
        r"(motor|brems)?(dreh)?moment( motor)?|couple( moteur)?|coppia( motore)?|par( motor)?"
        r"|torque (do )?motor|binario( (do )?motor)?|(motor)?koppel|(motor)?(vrid)?moment|moment( obrotowy)?"
    ),
    "power": (
        r"vykon( motoru)?|teho|guc|motor gucu|teljesitmeny|"
        r"(motor|brems)?leistung( motor)?|puissance( moteur)?|potenza( motore)?|potencia( (do )?motor)?"
        r"|(motor)?vermogen|(motor)?effekt|moc( silnika)?"
    ),
    "air_fuel_ratio": (
        r"luft kraftstoff( verhaltnis)?|rapport air (carburant|essence)"
        r"|rapporto aria (carburante|benzina)|relacao ar combustivel|relacion aire combustible"
        r"|lucht brandstof( verhouding)?"
    ),
    "fuel_flow": (
        r"kraftstoff(verbrauch|massen?strom|strom)?|(debit|consommation)( de)? (carburant|essence)"
        r"|(portata|consumo)( di)? (carburante|benzina)|consumo( de)? combusti(ble|vel)|brandstofverbruik"
        r"|brandstofstroom|bransle(flode|forbrukning)|zuzycie paliwa"
    ),
    "pulse_width": r"(ein)?spritz(zeit|dauer)|temps (d )?injection|tempo (di )?iniezione"
    r"|tiempo (de )?inyeccion|tempo (de )?injecao|inspuit(tijd|duur)|insprutningstid|czas wtrysku",
    "air_flow": (
        r"luft(massen?|volumen)?(strom|durchsatz|menge|masse|flode)|debit( d)? air|portata( d)? aria"
        r"|caudal( de)? aire|(caudal|vazao|fluxo)( de)? ar|lucht(massa)?(stroom|debiet)|luftflode"
        r"|przeplyw powietrza"
    ),
    "spark": (
        r"(zund|vorzund)(winkel|zeitpunkt|ung)|avance( a l)?( allumage)?|anticipo( accensione)?"
        r"|avance( de)? encendido|avanco( (da |de )?ignicao)?|ontsteking(stijdstip)?|voorontsteking"
        r"|tandning(svinkel)?|kat zaplonu"
    ),
    "coolant": (
        r"teplota (vody|chladici kapaliny)|kolevand ?temp\w*|kjolevann ?temp\w*|jaahdytysveden lampotila"
        r"|su sicakligi|vizhofok|"
        r"(kuhl(wasser|mittel)?|wasser) ?(temp(eratur)?)?|t (wasser|kuhlmittel|eau|acqua)"
        r"|temp(erature)?( d| de l)? eau|temp(eratura)?( d| dell)? acqua|temp(eratura)?( del| de)? agua"
        r"|temp(eratura)?( da)? agua|(koel)?water ?temp(eratuur)?|kylvatten ?temp(eratur)?"
        r"|temp(eratura)? (cieczy|wody|plynu)"
    ),
    "oil": (
        r"teplota oleje|olie ?temp\w*|oljetemperatur|oljyn lampotila|yag sicakligi|olajhofok|"
        r"ol ?temp(eratur)?|t (ol|huile|olio)|temp(erature)?( d)? huile"
        r"|temp(eratura)?( dell?| do| de)? (olio|aceite|oleo|oleju)|olie ?temp(eratuur)?|olje ?temp(eratur)?"
    ),
    "inlet_air": (
        r"teplota (nasavaneho )?vzduchu|luft ?temp\w*|ilman lampotila|(emme )?hava sicakligi"
        r"|levegohomerseklet|"
        r"(ansaug)?luft ?temp(eratur)?|ansaug(luft)?temp(eratur)?|t (luft|ansaug|air|aria)"
        r"|temp(erature)?( d| de l)? (air|admission)|temp(eratura)?( d| dell)? aria"
        r"|temp(eratura)?( del| de)? aire|temp(eratura)?( do| de)? ar( admissao)?"
        r"|(inlaat)?lucht ?temp(eratuur)?"
        r"|(insugs)?luft ?temp(eratur)?|temp(eratura)? powietrza"
    ),
    "barometer": (
        r"(barometricky |atmosfericky )?tlak( vzduchu)?|lufttryk|lufttrykk|ilmanpaine|hava basinci|legnyomas|"
        r"luftdruck|umgebungsdruck|barometer(stand)?|p (luft|umg\w*)|pression (atmospherique|barometrique)"
        r"|pressione (atmosferica|barometrica|ambiente)|presion (atmosferica|barometrica)"
        r"|pressao (atmosferica|barometrica)|luchtdruk|lufttryck|cisnienie( atmosferyczne)?"
    ),
    "humidity": (
        r"(relativni )?vlhkost|luftfug?tighed|luftfuktighet|ilmankosteus|(bagil )?nem|paratartalom|"
        r"(rel(ative)? )?(luft)?feucht(e|igkeit)|humidite( relative)?|umidita( relativa)?"
        r"|humedad( relativa)?|umidade( relativa)?|(relatieve )?(lucht)?vochtigheid|(luft)?fuktighet"
        r"|wilgotnosc( wzgledna)?"
    ),
    "throttle": (
        r"drosselklappe(n ?(stellung|winkel))?|(position )?papillon|farfalla|mariposa|borboleta"
        r"|gasklep(stand)?|gasspjall|przepustnica|gaspedal|(posicao )?acelerador"
    ),
    "correction": r"korrekt(ur|ions)?faktor|correctiefactor|facteur|fattore|factor|fator|korr faktor"
    r"|faktor|factor k|k faktor",
    "manifold_pressure": (
        r"saugrohrdruck|pression (collecteur|d admission|admission)|pressione (collettore|aspirazione)"
        r"|presion (colector|admision)|pressao (coletor|admissao)|inlaat(spruitstuk)?druk|insugstryck"
    ),
    "manifold_temperature": r"saugrohrtemperatur|temperature collecteur",
}

#: Words that stand beside a quantity and say how it is stated, as plain words.
CORRECTED = (
    r"c?corr(ected)?|correction|correzione|correccion|correcao|correctie|korrektur|korrektion|korekcji|cor|cf|korr(igiert(e|es|er)?)?|corrige(e|s)?|corretta|corretto|corregid[oa]"
    r"|corrigid[oa]|gecorr(igeerd)?|korrigera[td]|skorygowan[ya]|normiert|norm"
)
OBSERVED = (
    r"(un|not |non |nicht |no |nao |niet |sin |sem |sans |senza |ohne |zonder |utan |bez |without )"
    r"(corr\w*|korr\w*|cor|gecorr\w*|correction|correzione|correccion|correcao|correctie|corregir)"
    r"|unc|uncor\w*|unkorr\w*|okorr\w*|ongecorr\w*|nieskor\w*"
    r"|obs(erve[des]*|ervad[oa]|ervata|ervato)?|raw|roh|brut[eo]?|actual|as measured|as run"
    r"|meas(ured)?|gemessen(e|es)?|mesuree?s?|misurat[oa]|medid[oa]|gemeten|uppmatt|zmierzon[ya]|osservat[oa]"
    r"|beobachtet"
)
#: At the wheels or rollers of a chassis dynamometer.
AT_THE_WHEEL = (
    r"(rear )?wheels?|whl|rw|hubs?|roller|at the wheels?|am rad|aux? roues?|alle? ruot[ae]|a la rueda|na roda"
    r"|rad|rader|roues?|ruot[ae]|ruedas?|rodas?|wiel(en)?|hjul|kol[oa]"
)

#: Stems by which a heading that is no usual one is still known, if its unit is that of the channel.
STEMS = {
    "rpm": r"rpm|eng\w*|motor\w*|moteur|motore|crank\w*|\w*drehzahl|regime|regimen|giri|varvtal|toeren\w*"
    r"|obrot\w*"
    r"|otack\w*|omdrej\w*|turtal\w*|kierros\w*|devir|devri|fordulat\w*|rotacao|n",
    "torque": r"b?tq|trq|b?torque|\w*moment\w*|couple|coppia|par|binario|\w*koppel|vaant\w*|tork|nyomatek"
    r"|krut\w*",
    "power": r"\w*power|pwr|\w*leistung|puissance|potenza|potencia|vermogen|effekt|moc|vykon|teho|guc"
    r"|teljesitmeny"
    r"|b?hp|kw",
}
#: Words of quantities that are not what the engine gives.
NOT_THE_ENGINES = (
    r"loss\w*|lost|drag|friction|motoring|inertia|parasitic|target|demand\w*|request\w*|limit\w*|max|min|peak|set"
    r"|setpoint|soll|schlepp\w*|verlust\w*|reib\w*|perte\w*|perdita|perdida|ecu|model\w*|estimated|theoretical|error"
    r"|diff\w*|ratio|delta|turbo|dyno|roller|drum|wheel|output|shaft|fan|pump|specific|per|air|fuel|cooling|battery"
)

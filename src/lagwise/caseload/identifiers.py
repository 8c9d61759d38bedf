"""Columns that look as if they could tell who somebody is. Their values are never shown and never carried on."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping

import pandas as pd

from lagwise.caseload.remarks import Remark, shown

_LOOKED_AT = 500
_WORDS: Mapping[str, frozenset[str]] = {
    "a name": frozenset(
        ["name", "names", "firstname", "lastname", "surname", "forename", "fullname", "vorname", "nachname", "familienname", "nom", "prenom", "prénom", "nombre", "apellido", "apellidos", "nome", "cognome", "naam", "initials", "initialen"]
    ),
    "an e-mail address": frozenset(["email", "mail", "emails", "courriel", "correo"]),
    "a phone number": frozenset(["phone", "telephone", "tel", "telefon", "telefono", "téléphone", "mobile", "handy", "cell", "cellphone", "fax"]),
    "a birth date": frozenset(
        ["birth", "birthdate", "birthday", "dob", "geburtsdatum", "geburtstag", "geboren", "naissance", "nacimiento", "nascita", "geb"]
    ),
    "an address": frozenset(
        ["address", "adresse", "anschrift", "street", "strasse", "straße", "rue", "calle", "via", "postcode", "zip", "zipcode", "plz", "postleitzahl"]
    ),
    "a record number": frozenset(
        ["mrn", "ssn", "nhs", "passport", "insurance", "versicherungsnummer", "krankenkasse", "patientid", "patientnumber", "recordnumber", "recordno", "aktenzeichen", "fallnummer", "licence", "license"]
    ),
    "free text": frozenset(
        ["note", "notes", "comment", "comments", "remark", "remarks", "freetext", "bemerkung", "bemerkungen", "kommentar", "kommentare", "notiz", "notizen", "commentaire", "commentaires", "observaciones"]
    ),
    "an online trace": frozenset(["ip", "url", "website", "instagram", "facebook", "twitter", "photo", "picture", "foto"]),
}  # fmt: skip
_PAIRS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "a record number": (
        ("patient", "id"), ("patient", "no"), ("patient", "number"), ("record", "no"), ("record", "number"),
        ("case", "number"), ("social", "security"), ("patient", "nr"), ("member", "id"), ("file", "number"),
    ),
    "free text": (("free", "text"),),
}  # fmt: skip
_NAME_OF_THINGS = frozenset(
    [
        "exercise",
        "exercises",
        "lift",
        "drill",
        "session",
        "programme",
        "program",
        "file",
        "sheet",
        "device",
        "clinic",
        "site",
    ]
)
_MAIL = re.compile(r"[^@\s]+@[^@\s]+\.[a-z]{2,}", re.IGNORECASE)
_PHONE = re.compile(r"(?:\+|00|0)[\d\s()/-]{7,18}\d")
_BORN = re.compile(
    r"[A-Za-z]{1,4}[-_. ]?(?:19[3-9]\d|200\d|201[0-2])|[A-Za-z]{0,4}[-_. ]?(?:[0-3]\d[-./]?[01]\d[-./]?(?:19|20)\d\d|(?:19[3-9]|200)\d[-./]?[01]\d[-./]?[0-3]\d)"
)
_FIRST_NAMES = frozenset(
    [
        "anna",
        "maria",
        "sophie",
        "julia",
        "laura",
        "lena",
        "lisa",
        "sarah",
        "sara",
        "emma",
        "marie",
        "johanna",
        "katharina",
        "christine",
        "claudia",
        "sabine",
        "petra",
        "monika",
        "susanne",
        "andrea",
        "nicole",
        "stefanie",
        "sandra",
        "eva",
        "hannah",
        "mia",
        "clara",
        "martina",
        "ursula",
        "peter",
        "michael",
        "thomas",
        "andreas",
        "wolfgang",
        "klaus",
        "jürgen",
        "stefan",
        "christian",
        "markus",
        "martin",
        "frank",
        "uwe",
        "daniel",
        "alexander",
        "tobias",
        "sebastian",
        "jan",
        "jonas",
        "lukas",
        "felix",
        "paul",
        "leon",
        "max",
        "maximilian",
        "hans",
        "karl",
        "fritz",
        "johannes",
        "mary",
        "patricia",
        "jennifer",
        "linda",
        "elizabeth",
        "barbara",
        "susan",
        "jessica",
        "karen",
        "nancy",
        "emily",
        "olivia",
        "amelia",
        "isla",
        "ava",
        "grace",
        "chloe",
        "james",
        "john",
        "robert",
        "william",
        "david",
        "richard",
        "joseph",
        "charles",
        "matthew",
        "anthony",
        "donald",
        "steven",
        "andrew",
        "joshua",
        "kenneth",
        "kevin",
        "brian",
        "george",
        "oliver",
        "harry",
        "jack",
        "pierre",
        "jean",
        "luc",
        "michel",
        "françois",
        "camille",
        "léa",
        "manon",
        "nathalie",
        "sylvie",
        "isabelle",
        "marco",
        "luca",
        "giuseppe",
        "giovanni",
        "francesco",
        "giulia",
        "chiara",
        "francesca",
        "carlos",
        "josé",
        "juan",
        "miguel",
        "ana",
        "carmen",
        "lucía",
        "pablo",
        "mohamed",
        "mohammed",
        "ahmed",
        "ali",
        "fatima",
        "aisha",
        "mehmet",
        "ayşe",
        "jakub",
        "pawel",
        "katarzyna",
        "agnieszka",
        "lars",
        "sven",
        "ingrid",
        "astrid",
        "erik",
        "olaf",
        "anke",
        "heike",
        "birgit",
        "ivan",
        "olga",
        "natalia",
        "dmitri",
        "yuki",
        "hiroshi",
        "wei",
        "priya",
        "raj",
    ]
)
_PERSON_NAME = re.compile(r"[^\W\d_]{2,},?\s+[^\W\d_]{2,}(?:[\s-][^\W\d_]{2,})*")


def looks_like(header: str, values: pd.Series | None = None) -> str:
    """What identifying thing an unused column looks like ('a name', 'free text', ...), or '' for nothing."""
    tokens = re.findall(r"[^\W_]+", re.sub(r"(?<=[a-zà-ÿ])(?=[A-Z])", " ", header).lower())
    joined = {"".join(pair) for pair in itertools.pairwise(tokens)}
    for kind, words in _WORDS.items():
        if kind == "a name" and _NAME_OF_THINGS & set(tokens):
            continue
        if words & ({*tokens} | joined):
            return kind
    for kind, pairs in _PAIRS.items():
        if any({*pair} <= set(tokens) for pair in pairs):
            return kind
    return _by_values(values)


def identifier_remark(table: str, header: str, kind: str) -> Remark:
    """The remark on an unused column that looks identifying."""
    return Remark(
        "identifier_column", table, shown(header), 1, "",
        f"The column looks like {kind}; it was not read and is in no output",
        "Delete it from the file before the folder leaves your hands.",
    )  # fmt: skip


def codes_that_identify(table: str, people: pd.Series) -> list[Remark]:
    """A remark when any code of a person looks like a full name or an e-mail address, or some like first names, or many like
    initials with a year of birth or a whole birth date."""
    codes = people.dropna().drop_duplicates()
    if not len(codes):
        return []
    named = codes.str.fullmatch(_PERSON_NAME.pattern) | codes.str.fullmatch(_MAIL.pattern, flags=re.IGNORECASE)
    first = codes.str.lower().str.strip(" .0123456789_-").isin(_FIRST_NAMES)
    born = codes.str.fullmatch(_BORN.pattern)
    if first.sum() < 2:
        first = first & False
    if born.sum() < 3 or born.mean() < 0.3:
        born = born & False
    told = named | first | born
    if not told.any():
        return []
    kinds = [
        kind
        for kind, hit in (("names or e-mail addresses", named | first), ("dates or years of birth", born))
        if hit.any()
    ]
    return [
        Remark(
            "identifier_column", table, "person", int(told.sum()), "",
            f"Codes look like {' and '.join(kinds)}; they would appear in every output",
            "Run `lagwise deidentify FOLDER --out DIR`; it gives everybody a fresh random code.",
        )
    ]  # fmt: skip


def _by_values(values: pd.Series | None) -> str:
    if values is None or values.dtype != "str":
        return ""
    some = values.dropna().head(_LOOKED_AT).str.slice(0, 300).str.strip()
    if len(some) < 2:
        return ""
    if some.str.fullmatch(_MAIL.pattern, flags=re.IGNORECASE).mean() > 0.5:
        return "an e-mail address"
    if some.str.fullmatch(_PHONE.pattern).mean() > 0.5:
        return "a phone number"
    if some.str.count(r"\s").mean() >= 3 or some.str.len().mean() > 40:
        return "free text"
    return ""

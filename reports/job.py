"""What a report is made from: the firm, the job, its notes, its record, its findings and its photos."""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal, Self

from pydantic import Base64Bytes, Field, field_validator, model_validator

from extract.check.runoff import Storm
from extract.record import Evidence, Finding, Language, Model, Note, Record
from reports.colours import HEX, LEAST_CONTRAST, MIST, contrast
from reports.days import FIRST_DAY, LAST_DAY

PHONE_ERROR_M = 4.9
"""Phone position under open sky. Source: GPS.gov, GPS accuracy, as quoted by others (seen)."""


class Exclusion(Model):
    what: str
    why: str


class JobExclusion(Exclusion):
    """What one job leaves out, as its record shows it."""

    label: str | None = None
    """Of the structure or run that is left out, where it is one."""
    job: str = ""
    """The name of the job whose notes `evidence` names: this one, or of a visit the one before."""
    evidence: list[Evidence]
    """The notes and changes by hand that show it."""


class WarrantyText(Model):
    """The firm's own words of its warranty, in one language."""

    covers: list[str]
    excludes: list[Exclusion]
    how_to_claim: str
    materials: str | None = None
    """What is said of makers' own warranties."""


class Warranty(WarrantyText):
    workmanship_months: int = Field(gt=0, le=1200)
    callback_months: int | None = Field(default=None, gt=0, le=1200)
    """Of new work done on a visit to an old job, from the day of the visit; None: it has no term of its own."""
    respond_days: int | None = None
    """Days within which the firm answers a claim."""
    es: WarrantyText | None = None
    """The same words in Spanish, by the firm itself."""

    @model_validator(mode="after")
    def _says_the_same(self) -> Self:
        """A term that stands in one language alone would be promised to some clients and not to others."""
        for name in ("covers", "excludes", "materials"):
            ours, theirs = getattr(self, name), getattr(self.es or self, name)
            if isinstance(ours, list) and len(ours) != len(theirs):
                raise ValueError(f"has {len(ours)} entries in {name} and {len(theirs)} in es.{name}; give both as many")
            if (ours is None) != (theirs is None):
                raise ValueError(f"has {name} in one language alone; give it in both")
        return self

    def text(self, language: Language) -> WarrantyText:
        """The firm's words in that language; in English where it gave none."""
        return (self.es or self) if language == "es" else self

    def translated(self, language: Language) -> bool:
        """Whether the firm gave its words in that language."""
        return language == "en" or self.es is not None


class Company(Model):
    """The firm, as its company file (TOML) gives it."""

    name: str
    address: str
    phone: str
    email: str
    licence: str | None = None
    logo: str | None = None
    """A PNG or JPEG, by its path from the company file."""
    logo_png: Base64Bytes = Field(default=b"", repr=False)
    """That picture, sized for a report: what the library keeps of it, in base64. No company file names it itself."""
    colour: str | None = None
    """Of headings and lines, as `#1F5F6B` (sRGB); dark enough to be read on white and on a pale ground."""
    crew: list[str] = []
    language: Language = "en"
    """What its clients read, where no other is asked for."""
    warranty: Warranty
    policy: dict[str, float] = {}
    """Limits of the check module that this firm overrides, by their name in policy.toml."""
    storm: Storm | None = None
    """The storm that this firm's drains are to carry, where it works."""

    @field_validator("colour")
    @classmethod
    def _legible(cls, colour: str | None) -> str | None:
        if colour and not HEX.fullmatch(colour):
            raise ValueError(f"{colour} is no colour; write it as #1F5F6B")
        if colour and contrast(colour, f"#{MIST}") < LEAST_CONTRAST:
            raise ValueError(f"{colour} is too pale to be read in a heading; choose a darker one")
        return colour


class Job(Model):
    """One day's (or more) work at one site."""

    name: str
    """The short name typed in commands, e.g. `larkspur-walk`."""
    client: str
    address: str
    day: date = Field(ge=FIRST_DAY, le=LAST_DAY)
    zone: str = "+00:00"
    """The site's offset from UTC, e.g. `-05:00`."""
    callback_of: str = ""
    """The name of the job that this one is a visit to; empty where it is none."""
    company: Company


class Photo(Model):
    """One photo, matched. `about` is a structure or run label, or None where nothing fits."""

    number: int
    """From 1, in order of time: `photo 7` in the report and in `fallbook show JOB photo:7`."""
    sha256: str
    name: str
    """The file's own name."""
    taken_at: datetime | None
    time_source: str
    """Where the time came from, in words: `EXIF time and offset`, `file name`, ..."""
    lat: float | None = None
    lon: float | None = None
    gps_error_m: float | None = None
    heading_deg: float | None = None
    about: str | None = None
    note: int | None = None
    """INDEX of the note it was matched by."""
    reason: str = ""
    """Why it was matched so, in words."""
    backfill: Literal["before", "after", "unknown"] = "unknown"
    before_work: bool = False
    """Taken before anything was told to be done: it shows the place as it was found."""
    jpeg: bytes = Field(default=b"", repr=False, exclude=True)
    """An upright baseline JPEG, sized for the page."""

    @property
    def stage(self) -> Literal["start", "before", "after", "unknown"]:
        """When in the work it was taken: at its start, before or after backfill; what nobody told is unknown."""
        return "start" if self.before_work else self.backfill


class Closeout(Model):
    """All that `write_closeout` needs, and nothing it must look up."""

    job: Job
    notes: list[Note]
    sources: dict[str, str] = {}
    """SHA-256 to file name, of every sound and text file a note came from."""
    record: Record
    findings: list[Finding]
    accepted: list[Finding] = []
    """Of a client's copy, which has no other failed checks: those that the firm answered with a sentence."""
    photos: list[Photo]
    prepared: date
    language: Language = "en"
    """What it is written in."""
    former: Closeout | None = None
    """Of a visit, the job that it is a visit to, without pictures; None too where that one cannot be read any more."""

"""Frozen facts: what the parts of Coatbench tell one another. No behaviour, no I/O."""

from acquire.model.batch import Batch, Chunk, Connected, Disconnected
from acquire.model.bench import (
    TYPED_BY_HAND,
    Bench,
    InstrumentSpec,
    LinkAddress,
    opened_words,
)
from acquire.model.certificate import Certificate, CertificateFile, Piece, PieceKind
from acquire.model.channel import at_channel, channel_label, channel_labels
from acquire.model.fact import (
    TOLD_BY_PERSON,
    EvenGrid,
    Fact,
    Flag,
    Noise,
    Notice,
    NoticeKind,
    Quantity,
    Reading,
    Samples,
    Spectrum,
    SpectrumType,
)
from acquire.model.happening import Gap, Incident, IncidentKind
from acquire.model.instant import Instant, from_utc_ns, iso_utc
from acquire.model.layout import Design, Layout, Panel
from acquire.model.nominal import Nominal, WeightClass
from acquire.model.order import arrange
from acquire.model.plan import (
    DriftCorrection,
    EndOfLife,
    Measure,
    Order,
    Plan,
    StudyKind,
    Treatment,
    Zone,
)
from acquire.model.policy import AmbientRule, CheckPolicy, PieceRule, Span
from acquire.model.policy_text import policy_text, read_policy_text
from acquire.model.scale import Rated, Scale
from acquire.model.sled import Angle, SledCorrection, SledSpec, SteadyWindow
from acquire.model.target import Slot, Target
from acquire.model.verdict import (
    Ending,
    EndReason,
    GateVerdict,
    Judgement,
    LinearityJudgement,
    Outcome,
    Pass,
    PieceJudgement,
)

__all__ = [
    "TOLD_BY_PERSON",
    "TYPED_BY_HAND",
    "AmbientRule",
    "Angle",
    "Batch",
    "Bench",
    "Certificate",
    "CertificateFile",
    "CheckPolicy",
    "Chunk",
    "Connected",
    "Design",
    "Disconnected",
    "DriftCorrection",
    "EndOfLife",
    "EndReason",
    "Ending",
    "EvenGrid",
    "Fact",
    "Flag",
    "Gap",
    "GateVerdict",
    "Incident",
    "IncidentKind",
    "Instant",
    "InstrumentSpec",
    "Judgement",
    "Layout",
    "LinearityJudgement",
    "LinkAddress",
    "Measure",
    "Noise",
    "Nominal",
    "Notice",
    "NoticeKind",
    "Order",
    "Outcome",
    "Panel",
    "Pass",
    "Piece",
    "PieceJudgement",
    "PieceKind",
    "PieceRule",
    "Plan",
    "Quantity",
    "Rated",
    "Reading",
    "Samples",
    "Scale",
    "SledCorrection",
    "SledSpec",
    "Slot",
    "Span",
    "Spectrum",
    "SpectrumType",
    "SteadyWindow",
    "StudyKind",
    "Target",
    "Treatment",
    "WeightClass",
    "Zone",
    "arrange",
    "at_channel",
    "channel_label",
    "channel_labels",
    "from_utc_ns",
    "iso_utc",
    "opened_words",
    "policy_text",
    "read_policy_text",
]

"""The findings: every number of a write-up as one typed, frozen, JSON-able value, without words."""

from lagwise.findings.facts import ABOUT_THE_BASE as ABOUT_THE_BASE
from lagwise.findings.facts import ESTIMAND as ESTIMAND
from lagwise.findings.facts import ChallengeFacts as ChallengeFacts
from lagwise.findings.facts import EffectRow as EffectRow
from lagwise.findings.facts import FitFacts as FitFacts
from lagwise.findings.facts import FollowedFacts as FollowedFacts
from lagwise.findings.facts import GateFacts as GateFacts
from lagwise.findings.facts import Number as Number
from lagwise.findings.facts import Part as Part
from lagwise.findings.facts import PersonEvent as PersonEvent
from lagwise.findings.facts import PersonSeries as PersonSeries
from lagwise.findings.facts import PictureFacts as PictureFacts
from lagwise.findings.facts import Provenance as Provenance
from lagwise.findings.facts import QuestionFacts as QuestionFacts
from lagwise.findings.facts import Scalar as Scalar
from lagwise.findings.facts import StudyFacts as StudyFacts
from lagwise.findings.facts import Table as Table
from lagwise.findings.value import Findings as Findings
from lagwise.findings.value import rows_of as rows_of

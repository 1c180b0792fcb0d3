"""What the rules say about one build."""

from ..errors import Place, SourceError
from ..rules import Case, Judgement, Margin, Open, Pace, Unfollowed, margins, paces
from ..rules import judge as judge_case
from .chain import Chain


def judge(chain: Chain) -> Judgement:
    """The rules' verdicts on a build that has been run, at the clocks of its board.

    Raises SourceError where no clock is known: without one nothing can be found, which is not the same as nothing to
    find.
    """
    return judge_case(_case(chain))


def margins_of(chain: Chain) -> tuple[Margin | Open, ...]:
    """How far each requirement of a build is from breaking. Raises like `judge`."""
    return tuple(margins(_case(chain)))


def paces_of(chain: Chain) -> tuple[Pace | Unfollowed, ...]:
    """What of a build follows the clock, and what is said to stay. Raises like `judge`."""
    return tuple(paces(_case(chain)))


def _case(chain: Chain) -> Case:
    board = chain.board
    if not board.clocks:
        raise SourceError(
            "no clock to judge at is known; add --clock, or clock: in the project file",
            Place(chain.request.source),
        )
    project = chain.request.project
    accepted = project.accept if project else ()
    return Case(chain.timings, board, board.clocks, board.written_for, accepted)

"""What the rules say about one build."""

from ..errors import Place, SourceError
from ..rules import Case, Judgement
from ..rules import judge as judge_case
from .chain import Chain


def judge(chain: Chain) -> Judgement:
    """The rules' verdicts on a build that has been run, at the clocks of its board.

    Raises SourceError where no clock is known: without one nothing can be found, which is not the same as nothing to
    find.
    """
    board = chain.board
    if not board.clocks:
        raise SourceError(
            "no clock to judge at is known; add --clock, or clock: in the project file",
            Place(chain.request.source),
        )
    project = chain.request.project
    accepted = project.accept if project else ()
    return judge_case(Case(chain.timings, board, board.clocks, board.written_for, accepted))

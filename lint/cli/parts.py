"""`clockhop parts`: the families of parts there are data for, and the sheet of one."""

import click

from ..board import families, find_family
from ..errors import ClockhopError
from ..report import Catalogue, Form, Sheet
from ..tables import nearest
from .option import written
from .output import Output, deliver


@click.command("parts", epilog="Example: clockhop parts 68B50")
@click.argument("name", required=False)
@written
def command(name: str | None, form: Form, output: Output) -> int:
    """Show the part NAME: grades, ports, operations, limits, ratings and cautions, each with its source.

    NAME is a family or a part number; a part number of one grade shows that grade alone. Without NAME list the families
    with their part numbers.
    """
    deliver(_sheet(name) if name else Catalogue(families()), form, output, ())
    return 0


def _sheet(name: str) -> Sheet:
    found = find_family(name, families())
    if found is None:
        raise ClockhopError(f'unknown part "{name}"; {_near(name)}')
    return Sheet(*found)


def _near(name: str) -> str:
    names = {word for family in families() for word in (family.name, *family.names)}
    names.update(word for family in families() for grade in family.grades for word in grade.names)
    near = nearest(name, names)
    # Where none is near, all of them would not help.
    return near if near.startswith("nearest") else "clockhop parts lists them"

"""Pages of the manual about what reports say beside the findings of rules."""

from typing import Final

from ..rules import Page

REMARKS: Final = (
    Page(
        name="too-little-understood",
        summary="More of the source was not understood than may be",
        explanation="""
            What it finds: a build of which half of the statements or more were not understood, or more than
                not_understood: in the project file allows.
            Why it matters: what was not understood is not judged. Where that is much, no findings means little, and the
                check fails whatever --fail-on says.
            Example: a source for another processor than processor: names, or one whose includes are not found.
            Mend: none is made. Look at not-understood first: one cause, such as a missing folder of includes, often
                stands behind many lines.
            When to leave it: the lines are for another tool; then raise not_understood:, which can't go over a half.
        """,
    ),
    Page(
        name="known-gone",
        summary="A recorded finding is not there any more",
        explanation="""
            What it finds: an entry of the file that --known names, of which there are fewer findings now than were
                recorded.
            Why it matters: an entry left behind would hide as many new findings of the same kind and subject.
            Example: a wait that was too short was mended since check --record.
            Mend: none is made; run check --record again. It drops what is gone, and takes in more only with --grow.
            When to leave it: the finding is gone in this build alone, and the record is shared with others.
        """,
    ),
    Page(
        name="other-bytes",
        summary="The source does not make the bytes of the image",
        explanation="""
            What it finds: with --image, an address at which the file holds another byte than the source lays down.
            Why it matters: then the figures are those of another program than the one in the machine, or the source
                was read otherwise than its assembler reads it.
            Example: an image made with another define than the build of the project file has.
            Mend: none is made; give the defines and the origin the image was made with.
            When to leave it: the bytes are patched after assembly, as checksums and serial numbers are.
        """,
    ),
    Page(
        name="not-run",
        summary="A program could not be judged, as an editor shows it",
        explanation="""
            What it finds: a fault in the project file, a source that can't be read, or no processor that is known.
            Why it matters: nothing can be found where nothing was run. On the command line the same fault is the one
                line that check ends with, and exit status 2.
            Example: "clock: 2 mhz" in the project file.
            Mend: none is made; the message names the place and what would be accepted.
            When to leave it: never.
        """,
    ),
)

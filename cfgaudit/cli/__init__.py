"""The command line: one module a command, loaded only when it is called."""

import importlib
import os
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import click

from cfgaudit import __version__

# name: the module under cfgaudit.cli, which has a `command`; and one line of help
COMMANDS = {
    "check": "Audit dumps: what is risky, what could not be checked.",
    "diff": "What changed between two dumps, in order of risk.",
    "compare": "Several craft side by side, a row a setting that differs.",
    "fleet": "All the craft of a folder: findings, odd ones out, video together.",
    "upgrade": "One craft before and after a firmware change: what was kept, what was lost.",
    "carry": "The change that gives one craft the settings of another.",
    "mend": "The smallest change that clears what has a known mend.",
    "confirm": "Whether what was written took.",
    "show": "The craft as it was understood.",
    "allot": "Which device goes on which port, so that every constraint holds.",
    "bench": "A new build sheet, and the list to work through at the bench.",
    "report": "One page with findings and pictures, of a craft or of a change.",
    "page": "One HTML file that does all this in a browser, without a network.",
    "plain": "A dump in the plain form, to be read and versioned.",
    "redact": "A dump to pass on: what is private hidden, every other byte as it was.",
    "why": 'From what is seen, say "no picture", to what may be behind it.',
    "explain": "What a rule or a setting is, and how to mend it.",
    "dialect": "Teach the tool a firmware's dump: its names, its units, its words.",
    "git": "Dumps under version control: shown, compared and merged by setting.",
}
_OWN: Mapping[str, str] = {}  # each command has a module of its own


class InputError(click.ClickException):
    """Something named can't be read, written or done; one line says what, perhaps with `more`."""

    exit_code = 2

    def __init__(self, message: str, *more: str) -> None:
        from cfgaudit.reading.safe import safe

        self.lines = (message, *more)
        super().__init__("\n".join(map(safe, self.lines)))


class Refusing:
    """What can't be done while this holds is refused, in the words of the error that says so."""

    def __init__(self, *errors: type[Exception]) -> None:
        self._errors = errors

    def __enter__(self) -> None:
        """Nothing is to be done before."""

    def __exit__(self, _: object, error: BaseException | None, __: object) -> None:
        """Raises InputError in the place of one of the errors."""
        if isinstance(error, self._errors):
            raise InputError(str(error)) from None


def say(message: str) -> None:
    """Say one line on standard error; whatever it quotes is data, and can't end the line."""
    from cfgaudit.reading.safe import safe

    click.echo(safe(message), err=True)


def reason_of(error: OSError) -> str:
    """Why a file can't be had, in the system's words."""
    return (error.strerror or str(error)).lower()


def did_you_mean(word: str, known: Iterable[str], *, start: str = " Did", most: int = 1) -> str:
    """A hint at what is spelt nearly so; empty where nothing is."""
    from difflib import get_close_matches  # only where something is misspelt

    near = get_close_matches(word, list(known), n=most)
    return f"{start} you mean {', '.join(near)}?" if near else ""


def see_that_it_is_installed(package: str, command: str, extra: str) -> None:
    """See that a package is there that only some commands need. Raises InputError."""
    from importlib.util import find_spec

    if find_spec(package) is None:
        raise InputError(
            f"{command} needs {package}; install it with: pip install 'cfgaudit[{extra}]'"
        )


class LazyGroup(click.Group):
    """A group that imports a command's module only when that command is asked for.

    `helps` has the line of help of each command, `package` is where their modules are. A module
    has a `command`, or is named in `shared` for some, which it has by their own names.
    """

    def __init__(
        self,
        *args: Any,
        helps: Mapping[str, str] = COMMANDS,
        package: str = "cfgaudit.cli",
        shared: Mapping[str, str] = _OWN,
        **settings: Any,
    ) -> None:
        super().__init__(*args, **settings)
        self._helps, self._package, self._shared = helps, package, shared

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands, in the order of the help."""
        return list(self._helps)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command's module."""
        if cmd_name not in self._helps:
            return None
        module = self._shared.get(cmd_name, cmd_name)
        name = cmd_name if cmd_name in self._shared else "command"
        command: click.Command = getattr(importlib.import_module(f"{self._package}.{module}"), name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, without importing any of them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(self._helps.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does, with a near miss suggested."""
        if args and args[0] not in self._helps and not args[0].startswith("-"):
            hint = did_you_mean(args[0], self._helps)
            ctx.fail(f"There is no command {args[0]!r}.{hint}")
        return super().resolve_command(ctx, args)


_EPILOG = """Begin with `cfgaudit check DUMP`; DUMP is a file, or `-` for standard input. Then
`cfgaudit explain RULE` says more of a finding. `cfgaudit COMMAND --help` tells of each command.

Exit status: 0 fine, 1 findings or differences that were asked for, 2 it could not be done."""


@click.group(
    cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]}, epilog=_EPILOG
)
@click.version_option(__version__, prog_name="cfgaudit", message="%(prog)s %(version)s")
@click.option("--debug", is_flag=True, help="Show the details of an internal fault.")
def group(debug: bool) -> None:
    """Audit, compare and review the settings dump of a small multirotor before it flies.

    Propellers off at the bench. An audit is no proof that a craft is safe.
    """


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit: 0 fine, 1 findings or differences, 2 could not be done."""
    args = list(sys.argv[1:] if arguments is None else arguments)
    _speak_utf8()
    with _details(shown="--debug" in args):
        status = _status(args)
    sys.exit(status if isinstance(status, int) else 0)


@contextmanager
def _details(*, shown: bool) -> Iterator[None]:
    """Show the log of cfgaudit on standard error, where that is asked for."""
    if not shown:
        yield
        return
    import logging

    log, handler = logging.getLogger("cfgaudit"), logging.StreamHandler()
    log.addHandler(handler)
    log.setLevel(logging.DEBUG)
    try:
        yield
    finally:
        log.setLevel(logging.NOTSET)
        log.removeHandler(handler)


def _status(args: list[str]) -> object:
    if sys.stdout is None:  # as it is for a program that is begun without one
        return _refusal(InputError("nothing can be told: standard output is closed"))
    try:
        status: object = group.main(args, prog_name="cfgaudit", standalone_mode=False)
        sys.stdout.flush()
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.ClickException as error:
        return _refusal(error)
    except click.Abort:
        return 2
    except BrokenPipeError:
        return _closed_pipe()
    except Exception as error:
        if isinstance(error, FileNotFoundError) and _folder_is_gone():
            return _refusal(InputError("the current folder is gone; go to one that is there"))
        return _internal_fault(error)
    return status


def _folder_is_gone() -> bool:
    try:
        os.getcwd()  # noqa: PTH109 (pathlib is not loaded for it)
    except FileNotFoundError:
        return True
    return False


def _speak_utf8() -> None:
    """Write UTF-8 whatever the locale; what can't be encoded is escaped."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="backslashreplace")


def _refusal(error: click.ClickException) -> int:
    """What can't be done, in click's words; what it quotes is data, so made safe."""
    from io import StringIO

    from cfgaudit.reading.safe import safe
    from cfgaudit.reports.screen import safe_lines

    said = StringIO()
    error.show(said)
    text, quoted = said.getvalue(), error.format_message()
    if not isinstance(error, InputError):  # whose lines are safe one by one
        text = text.replace(quoted, safe(quoted))
    click.echo(safe_lines(text), nl=False, err=True)
    return 2


def _internal_fault(error: Exception) -> int:
    """One line that says what to report."""
    from cfgaudit.reading.safe import fault_of

    click.echo(
        f"cfgaudit: internal fault ({fault_of(error)}). Please report this line with the command "
        "and, redacted, the dump; `cfgaudit --debug ...` gives the details.",
        err=True,
    )
    return 2


def _closed_pipe() -> int:
    """The reader has gone: say nothing, and keep the interpreter from saying something."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0

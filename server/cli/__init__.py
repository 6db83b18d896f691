"""The commands: ``plan``, ``explain``, ``price``, ``read``, ``schema``, ``serve``, ``demo``, care for data.

Reading order: this file (arguments, exit codes), ``columns.py`` (tables on a terminal),
``plan_pages.py``, ``receipt_pages.py`` and ``explaining.py`` (what is printed), ``reading.py`` (offers
as people write them), ``serving.py`` (the server), ``keeping.py`` (backup, restore, export, import, codes),
``importing.py`` (tables).

Exit codes: 0 an answer; 1 the register refuses; 2 bad input, each finding on a line of its own on
standard error (``FILE: FIELD: found VALUE; mend: WHAT TO DO``) and nothing on standard output.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path

import msgspec

from ..engine.papers import Plan, Receipt, Refusal
from ..intake.bad_input import BadInput
from ..intake.documents import read_transaction, read_trip
from ..intake.schemas import DOCUMENTS, schema_of
from ..shipped import release
from .explaining import add_explain
from .importing import add_import_table
from .keeping import add_commands
from .publishing import add_publish
from .reading import add_read_command

ANSWERED, REFUSED, BAD_INPUT = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and returns its exit code. argparse itself ends with 2 for a wrong command line."""
    chosen = parser().parse_args(arguments)
    try:
        return chosen.run(chosen)
    except BadInput as error:
        print(*error.lines, sep="\n", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # The reader (head, a pager) has seen enough; there is nobody left to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ANSWERED


def parser() -> argparse.ArgumentParser:
    """All commands and their options; the README's list of commands is made from it."""
    top = argparse.ArgumentParser(
        prog="counterfoil",
        description="Plans a coupon shopping trip to the cent and carries it through the store.",
        epilog="Exit codes: 0 an answer, 1 the register refuses, 2 bad input.",
    )
    top.add_argument("--version", action="version", version=f"counterfoil {release()}")
    commands = top.add_subparsers(required=True, metavar="COMMAND")

    planning = commands.add_parser(
        "plan", help="plan a trip", description="Plans a trip and prints the plan."
    )
    planning.add_argument("trip", type=Path, metavar="TRIP.json", help="the trip (counterfoil schema trip)")
    planning.add_argument("--json", action="store_true", help="print the plan as a document")
    planning.set_defaults(run=plan)

    add_explain(commands)

    pricing = commands.add_parser(
        "price",
        help="ring up a transaction",
        description="Rings up one transaction: the receipt and its why.",
    )
    pricing.add_argument(
        "transaction", type=Path, metavar="TRANSACTION.json", help="(counterfoil schema transaction)"
    )
    pricing.add_argument(
        "--json", action="store_true", help="print the receipt, or the refusal, as a document"
    )
    pricing.set_defaults(run=price)

    describing = commands.add_parser(
        "schema", help="print a document's JSON Schema", description="Prints the JSON Schema of a document."
    )
    describing.add_argument(
        "document", nargs="?", choices=list(DOCUMENTS), help="one of these; all of them if left out"
    )
    describing.set_defaults(run=schema)

    serving = commands.add_parser(
        "serve", help="run the server", description="Runs the server of a household."
    )
    _add_server_options(serving, host=None, data=_data_home() / "counterfoil")
    serving.add_argument(
        "--lan",
        action="store_true",
        help="open to phones in the same network, by https with a certificate authority of its own",
    )
    serving.add_argument(
        "--tls-port", type=_port, default=8443, help="port for https with --lan (8443; 0: any free one)"
    )
    serving.add_argument(
        "--trust-this-machine",
        action="store_true",
        help="whoever sits at this machine needs no pairing; never behind a reverse proxy",
    )
    serving.set_defaults(run=serve, demo=False)

    showing = commands.add_parser(
        "demo",
        help="run the server with the demo household",
        description="Runs a server with the demo household, open to phones in the same network.",
    )
    _add_server_options(showing, host="0.0.0.0", data=_data_home() / "counterfoil-demo")
    showing.set_defaults(run=serve, demo=True, lan=False, trust_this_machine=True)

    add_read_command(commands)
    add_publish(commands)
    add_commands(commands, _data_home() / "counterfoil")
    add_import_table(commands, _data_home() / "counterfoil")
    return top


def plan(chosen: argparse.Namespace) -> int:
    """``counterfoil plan``: always 0 for a sound trip, also when a need cannot be met (the plan says so)."""
    trip = read_trip(chosen.trip)

    from ..engine.planner import plan as plan_trip  # brings the solver, which bad input need not wait for
    from .plan_pages import plan_pages

    made = plan_trip(trip)
    print(_document(made) if chosen.json else plan_pages(trip, made))
    return ANSWERED


def price(chosen: argparse.Namespace) -> int:
    """``counterfoil price``: 0 with the receipt, 1 with the refusal; both are answers on standard output."""
    from ..engine.register import price as ring_up
    from .receipt_pages import receipt_page, refusal_page

    transaction = read_transaction(chosen.transaction)
    answer = ring_up(transaction)
    if chosen.json:
        print(_document(answer))
    elif isinstance(answer, Receipt):
        print(receipt_page(transaction, answer))
    else:
        print(refusal_page(answer))
    return ANSWERED if isinstance(answer, Receipt) else REFUSED


def schema(chosen: argparse.Namespace) -> int:
    """``counterfoil schema``: one schema, or an object of all of them by name."""
    wanted = schema_of(chosen.document) if chosen.document else {name: schema_of(name) for name in DOCUMENTS}
    print(json.dumps(wanted, indent=2))
    return ANSWERED


def serve(chosen: argparse.Namespace) -> int:
    """``counterfoil serve`` and ``demo``: 0 when it is stopped."""
    from .serving import Serving, serve_until_stopped

    serve_until_stopped(
        Serving(
            data=chosen.data,
            host=chosen.host or ("0.0.0.0" if chosen.lan else "127.0.0.1"),
            port=chosen.port,
            known_as=tuple(chosen.known_as),
            demo=chosen.demo,
            trusts_this_machine=chosen.trust_this_machine,
            tls_port=chosen.tls_port if chosen.lan else None,
        )
    )
    return ANSWERED


def _document(answer: Plan | Receipt | Refusal) -> str:
    # The structs leave defaults out, but a document that travels says what it is.
    whole = {"format": answer.format} | msgspec.to_builtins(answer)
    return json.dumps(whole, indent=2, ensure_ascii=False)


def _add_server_options(command: argparse.ArgumentParser, *, host: str | None, data: Path) -> None:
    named = host or "127.0.0.1; 0.0.0.0 with --lan"
    command.add_argument("--host", default=host, help=f"address to listen on ({named})")
    command.add_argument("--port", type=_port, default=8000, help="port to listen on (8000; 0: any free one)")
    command.add_argument(
        "--known-as",
        action="append",
        default=[],
        metavar="NAME",
        help="a further name of this server, behind a reverse proxy; may be repeated",
    )
    command.add_argument(
        "--data", type=Path, default=data, metavar="FOLDER", help=f"where the data lie ({data})"
    )


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) > 65_535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port: write a number from 0 to 65535")
    return int(text)


def _data_home() -> Path:
    """Where a user's programs keep their data (XDG base directories)."""
    named = os.environ.get("XDG_DATA_HOME", "")
    return Path(named) if Path(named).is_absolute() else Path.home() / ".local" / "share"

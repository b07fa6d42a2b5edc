"""`key` and `trust`: made and kept on the bench half only."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from shipworthy.cli.options import Json, KeyFile, TrustFile, the_bench


def make(
    name: Annotated[str, typer.Option("--name", help="Whose key it is, as shown on reports.")],
    key: KeyFile = None,
    trust: TrustFile = None,
) -> None:
    """Make the bench half's signing key (mode 0600), and trust it here.

    Example: shipworthy key make --name "Kestrel Desk"
    """
    from shipworthy.cli.show import say
    from shipworthy.record.keys import TrustList, make_key

    bench = the_bench(key=key, trust=trust)
    public = make_key(bench.key, name=name)
    known = TrustList.load(bench.trust) if bench.trust.exists() else TrustList()
    bench.trust.parent.mkdir(parents=True, exist_ok=True)
    known.add(public).save(bench.trust)
    say(f"{public.kid}  {public.name}")
    say("Keep a copy of the key in a safe place, and give the public half away with `shipworthy key export`.")


def export(
    key: KeyFile = None,
    output: Annotated[Path | None, typer.Option("-o", "--output", help="File to write.")] = None,
) -> None:
    """Print the public half of the key, to give away.

    Example: shipworthy key export -o kestrel-desk.pub.json
    """
    import sys

    from shipworthy.record.files import write_whole
    from shipworthy.record.keys import export_public, load_key

    public = export_public(load_key(the_bench(key=key).key))
    if output:
        write_whole(output, public)
    else:
        sys.stdout.write(public.decode("utf-8"))


def add(
    file: Annotated[Path, typer.Argument(help="A public key, as `key export` wrote it.")],
    trust: TrustFile = None,
) -> None:
    """Add a public key to the trust list. Get it by a way you trust, not with the report.

    Example: shipworthy trust add kestrel-desk.pub.json
    """
    from shipworthy.cli.show import say
    from shipworthy.record.keys import TrustList, read_public

    bench = the_bench(trust=trust)
    known = TrustList.load(bench.trust) if bench.trust.exists() else TrustList()
    public = read_public(file)
    bench.trust.parent.mkdir(parents=True, exist_ok=True)
    known.add(public).save(bench.trust)
    say(f"{public.kid}  {public.name}")


def list_keys(trust: TrustFile = None, json: Json = False) -> None:
    """List the public keys that are trusted here.

    Example: shipworthy trust list
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.record.keys import TrustList

    known = TrustList.load(the_bench(trust=trust).trust)
    if json:
        as_json(known)
    else:
        for public in known.keys:
            say(f"{public.kid}  {public.name}")

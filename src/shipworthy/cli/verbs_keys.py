"""`key` and `trust`: made and kept on the bench half only."""

from __future__ import annotations

from pathlib import Path

import click

from shipworthy.cli import options


@click.command("make")
@click.option("--name", required=True, help="Whose key it is, as shown on reports.")
@options.key
@options.trust
def make(name: str, key: Path | None, trust: Path | None) -> None:
    """Make the bench half's signing key (mode 0600), and trust it here.

    Example: shipworthy key make --name "Kestrel Desk"
    """
    from shipworthy.cli.show import say
    from shipworthy.record.keys import TrustList, make_key

    bench = options.the_bench(key=key, trust=trust)
    public = make_key(bench.key, name=name)
    known = TrustList.load(bench.trust) if bench.trust.exists() else TrustList()
    bench.trust.parent.mkdir(parents=True, exist_ok=True)
    known.add(public).save(bench.trust)
    say(f"{public.kid}  {public.name}")
    say("Keep a copy of the key in a safe place, and give the public half away with `shipworthy key export`.")


@click.command("export")
@options.key
@click.option("-o", "--output", type=options.PATH, help="File to write.")
def export(key: Path | None, output: Path | None) -> None:
    """Print the public half of the key, to give away.

    Example: shipworthy key export -o kestrel-desk.pub.json
    """
    import sys

    from shipworthy.record.files import write_whole
    from shipworthy.record.keys import export_public, load_key

    public = export_public(load_key(options.the_bench(key=key).key))
    if output:
        write_whole(output, public)
    else:
        sys.stdout.write(public.decode("utf-8"))


@click.command("add")
@click.argument("file", type=options.PATH)
@options.trust
def add(file: Path, trust: Path | None) -> None:
    """Add a public key to the trust list. Get it by a way you trust, not with the report.

    Example: shipworthy trust add kestrel-desk.pub.json
    """
    from shipworthy.cli.show import say
    from shipworthy.record.keys import TrustList, read_public

    bench = options.the_bench(trust=trust)
    known = TrustList.load(bench.trust) if bench.trust.exists() else TrustList()
    public = read_public(file)
    bench.trust.parent.mkdir(parents=True, exist_ok=True)
    known.add(public).save(bench.trust)
    say(f"{public.kid}  {public.name}")


@click.command("list")
@options.trust
@options.json
def list_keys(trust: Path | None, json: bool) -> None:
    """List the public keys that are trusted here.

    Example: shipworthy trust list
    """
    from shipworthy.cli.show import as_json, say
    from shipworthy.record.keys import TrustList

    known = TrustList.load(options.the_bench(trust=trust).trust)
    if json:
        as_json(known)
    else:
        for public in known.keys:
            say(f"{public.kid}  {public.name}")

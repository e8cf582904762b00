"""The commands `keys` and `schema`: what a job file may say, for people and for editors."""

from __future__ import annotations

import click

from stripegen.cli_output import output
from stripegen.errors import Fault, JobError, Where


@click.command(short_help="What a job file may say, key by key.")
@click.argument("name", required=False)
@click.option("--markdown", is_flag=True, help="All of it as Markdown.")
def keys(name: str | None, markdown: bool) -> None:
    """Every key of a job file: what it means, what its value may be, what holds where it is left out, an example.

    NAME is a table (cup, vinyl, pattern, line, order, offcut, cutter, job), a key in whichever tables have it (gap), or a
    key of one table (line.gap). Without it, all are told.
    """
    from stripegen.jobkeys import TABLES, page

    if markdown:
        if name is not None:
            raise click.UsageError("--markdown writes the whole page: give no NAME with it")
        output().copy(page.markdown())
        return
    tables, found = (list(TABLES), []) if name is None else page.find(name)
    if not tables and not found:
        from stripegen.nearmiss import did_you_mean
        from stripegen.tables import show

        right = f"no table and no key is called so{did_you_mean(name, page.known_names())}"
        raise JobError(Fault(Where("keys", ""), "", show(name), right))
    if tables:
        parts = [page.table_text(table) for table in tables]
        if found:
            parts.append(f"{name} is a key too: " + ", ".join(path for path, _ in found))
    else:
        parts = [page.key_text(key, path) for path, key in found]
    output().copy("\n\n".join([*parts, f"Values\n{page.values_text()}"] if tables else parts))
    output().add(keys=[page.key_row(path, key) for path, key in (page.keys_of(tables) if tables else found)])


@click.command(short_help="A JSON Schema of job files, for an editor.")
def schema() -> None:
    """A JSON Schema (draft 7) of job and preset files, by which an editor completes and checks what you write.

    Save it beside your jobs: stripegen schema > job.schema.json
    """
    import json

    from stripegen.jobkeys.schema import job_schema

    made = job_schema()
    output().copy(json.dumps(made, indent=1, ensure_ascii=False))
    output().add(schema=made)

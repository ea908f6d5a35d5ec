"""The command line: the same verbs as in Python, one command each."""

from __future__ import annotations

import shutil

import click

from harvestcast.report.command.add import KITCHEN, add
from harvestcast.report.command.backtest import backtest
from harvestcast.report.command.check import check
from harvestcast.report.command.gardens import gardens
from harvestcast.report.command.importing import import_
from harvestcast.report.command.next import next_
from harvestcast.report.command.season import ahead, season
from harvestcast.report.command.sheet import sheet
from harvestcast.report.command.start import start
from harvestcast.report.command.terminal import Progress, command, show, show_json
from harvestcast.report.command.week import week


class _InOrder(click.Group):
    """A group that lists its commands in the order of a season."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


@click.group(
    cls=_InOrder,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96},
    epilog="A first day: harvestcast start my_garden, then harvestcast add my_garden cucumber 12. "
    "Each week: harvestcast week my_garden. What stands in which file: harvestcast explain.",
)
@click.version_option(package_name="harvestcast", message="%(prog)s %(version)s")
def main() -> None:
    """Forecast a kitchen garden's harvest and plan what to put up, week by week."""


@click.command(
    epilog="Example: harvestcast explain settings",
    short_help="What stands in which file, what settings mean, what is safe.",
)
@click.argument("topic", required=False)
@command
def explain(topic: str | None, as_json: bool, progress: Progress) -> None:
    """Explain a file, the settings, an import, or what is safe; without TOPIC, list the topics."""
    from harvestcast.words import guide

    topics = guide.topics()
    if topic is not None and topic not in topics:
        raise click.BadParameter(f"{topic!r} is none of {', '.join(topics)}", param_hint="TOPIC")
    shown = list(topics.values()) if topic is None else [topics[topic]]
    if as_json:
        named = [{"topic": one.name, "title": one.title, "markdown": one.markdown} for one in shown]
        show_json({"ok": True, "kind": "explain", "topics": named})
    elif topic is not None:
        show(topics[topic].text(min(guide.WIDTH, shutil.get_terminal_size().columns)))
    else:
        for one in shown:
            show(f"  harvestcast explain {one.name:<10} {one.title}")


_ORDER = (
    start,
    add,
    *KITCHEN,
    import_,
    check,
    sheet,
    week,
    ahead,
    season,
    next_,
    backtest,
    gardens,
    explain,
)
for _command in _ORDER:
    main.add_command(_command)

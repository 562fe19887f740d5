"""`cfgaudit git uninstall`: take back what install told git, without a trace."""

import click

from cfgaudit.cli.git.setting_up import carried_out, here


@click.command()
@click.option("--dry-run", is_flag=True, help="Only print the plan.")
def command(dry_run: bool) -> int:
    """Take out the drivers' configuration, our block of attributes, and what git has cached."""
    from cfgaudit.git.install import plan_uninstall

    repository = here()
    return carried_out(repository, lambda: plan_uninstall(repository), dry_run)

"""What each command does, once its arguments are read.

The one idea: `api.command` knows arguments and exit codes; the modules here know the work, and
are imported only when their command runs, so that `--help` stays quick.
"""

__all__: list[str] = []

"""The command line, one file a command: what is typed goes to the rooms below, what they answer is printed.

To add a command: a function of its name (``_`` for ``-``) in a module of its name, and the name in ``ENGINE_COMMANDS``.

May import: book, common, contract, doctor, outputs, runs, sheets, site, trying, verify.
Read: cli, group, options, printing, run, closing, watch, check, explain, rebuild, backup, restore, sheet, doctor,
verify, stages, settings, key, sign, new_plugin, try_plugin.
"""

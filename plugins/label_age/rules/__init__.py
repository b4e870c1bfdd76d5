"""The rules of law: one file a market beside the modules that read, check and apply them.

To add or mend a rule, look at the .toml files here; a site's own go to ``site_plugins/NAME/rules``.

May import: facts, wording.
Read: conditions, demands, versions, confirmations, check, texts, evaluate, files, guide.
"""

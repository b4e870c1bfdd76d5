"""What is fixed before the first file is read: site.toml, the plugins, the kinds of sheet, the order of stages.

May import: common, contract, kept, sheets, tables.
Read: people, signatures, settings_file, source, loading, plugin_commands, graph, declared_checks, priority,
header_words, house, description.
"""

"""The trade: every sheet kind, stage, rule and report, each plugin in its own folder."""

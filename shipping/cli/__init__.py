"""The command line: arguments in, words out; no rule and no formula lives here."""

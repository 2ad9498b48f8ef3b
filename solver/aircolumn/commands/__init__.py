"""The commands, one a module: ``arguments(parser)`` adds its own, ``run(args)`` does the work. What
they share stands in options, progress and results. Imported by cli.py only, each when it is asked
for."""

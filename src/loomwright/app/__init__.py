"""The host: open projects, questions with remembered answers, one typed function for each command.

The commands are ``check``, ``propose_lines`` and ``apply``, ``draw``, ``open_questions``, ``explain``, ``start`` and
``start_from_example``; they are what the faces call, and what a script of yours can call. They live in modules of
their own and are imported where they are used, so that asking for help stays quick.
"""

"""The face in a browser: server-rendered pages over one open project. The browser computes nothing.

How a page is made
    A route in ``routes_NAME.py`` asks the session and returns ``desk.page(request, "name.html", title=..., scope=...,
    scripts=(...), ...)``. The template is the inside of ``<main>`` alone: frame, margin and refreshing come from
    ``base.html``. A page gets into the rail by an entry in ``rail.PAGES``, its router into ``server.ROUTERS``, its things
    into ``addresses.OWN_PAGES``. Everything worded or computed comes from a function of ``app``: web imports nothing else.

How a page follows
    ``static/js/revision.js`` hears every new state (server-sent events, and the header of every answer to a change) and
    triggers ``revision`` on each ``[data-part]`` that shows another state. ``<main>`` and the margin are such parts: they
    ask for their own address again and are morphed in place. A part in which somebody types, or that has
    ``data-busy`` while something is dragged, waits until that is over (dispatch ``loomwright:idle`` on the document then).

How things are joined
    Every shape, row and finding carries ``data-path`` (``lines.drive.stations[3]``), and ``data-also`` for further paths.
    ``static/js/link.js`` lights up all that show the path pointed at; ``hold(paths)`` keeps a selection,
    ``loomwright:selected`` tells it, and an address with ``#path`` selects on arrival.

How a change is posted
    A form with ``hx-post`` to one of the routes in ``routes_edit.py`` and ``hx-swap="none"`` (or, from a module,
    ``change.js``: ``post(address, fields, element)``). The revision that the author saw goes along by itself, from the
    nearest ``[data-revision]``. The answer is ``desk.done``: 204 and the new state. A refusal (409, 422) opens the
    sheet with the reason, and both versions where two people wrote the same value. A single field is ``field.html`` with
    ``app.fields.field_form``: it posts to ``/edit/field`` on change and comes back with the reason where it cannot be read.
    ``app.session.try_change`` with ``try.html`` shows a change before it is written.

How a figure is asked why, and a term what it means
    ``{% from "figure.html" import figure %}`` and ``{{ figure(row.trunk, row.path ~ ".trunk_m", "Drive line, trunk") }}``
    show a figure as a button that opens ``/why?of=PATH`` in the sheet; ``app.why`` lists the paths it knows, a finding is
    ``"finding:" ~ row.key``. The third argument is what a screen reader says before the figure.
    The filter ``terms`` (``{{ row.sentence|terms }}``, ``{{ "Trunk, m"|terms }}``) escapes a text and leads the first use
    of each trade term on the page to ``show/glossary.toml``; it needs the context of the page, so not in a macro.
    ``fact.html`` (a fact as a row with its question) and ``own_field.html`` post themselves and come back with the
    reason where they cannot be read; both need ``fact`` from ``app.component_sheet.fact_form``, ``field`` from ``app.fields``.

How a drawing is worked on
    A drawing with ``data-board`` has handles (``show.handles``): shapes with ``data-handle``, focus and a spoken label.
    ``js/board.js`` moves them with the pointer once a frame and asks the server, one question at a time, what a drop would
    do (``app.drags``: nothing is written); ``takers`` in ``js/vehicle.js`` says who takes which kind of handle in hand, and
    ``write`` drops it as one step. Values in tables are ``cell.html`` with ``app.cells.cell``: ``js/cells.js`` posts them.

What the policy forbids
    Inline scripts, ``style`` attributes, ``hx-on``, filters in ``hx-trigger`` and ``js:`` values (they need eval): state
    goes into attributes and classes, drawings use presentation attributes. Nothing is fetched from anywhere else.
"""

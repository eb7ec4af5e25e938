"""The bench example with FD frames: two boxes on 1.6 m, 500 kbit/s and a data phase of 2 Mbit/s."""

LINE = 'data_bit_rate = "2 Mbit/s"\n'
CONTROLLER = 'data_bit_rates = ["1 Mbit/s", "2 Mbit/s"]\nclock = "80 MHz"\noscillator_tolerance = "0.1 %"\n'
BATTERY = 'frames = "both"\ndata_bit_rates = ["2 Mbit/s"]\nsample_point = "80 %"\ndata_sample_point = "70 %"\n'


def with_fd(folder, line=LINE, controller=CONTROLLER, battery=BATTERY):
    """Write the keys of the data phase into a copy of the bench."""
    put(folder / "lines" / "bench.toml", 'identifiers = "11 bit"\n', f'frames = "FD"\n{line}')
    put(folder / "components" / "vehicle_controller.toml", 'termination = "switchable"\n', controller)
    put(folder / "components" / "battery_manager.toml", 'termination = "switchable"\n', battery)


def put(file, before, lines):
    """Put lines in front of the one that is there."""
    text = file.read_text("utf-8")
    assert text.count(before) == 1
    file.write_text(text.replace(before, lines + before), "utf-8")

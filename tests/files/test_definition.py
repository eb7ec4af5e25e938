"""What definition files say becomes messages; what cannot be said is told, once by kind, with its places."""

import logging
import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from loomwright.files.change import project_texts
from loomwright.files.definition import read_definition
from loomwright.files.definition_statements import torn_at
from loomwright.files.load import understood
from loomwright.laws.signal_bits import bytes_needed
from loomwright.model.component import Component, Port
from loomwright.model.table import Table
from loomwright.model.vehicle import Place, Vehicle
from loomwright.terms.fact import Assumed, Known, Source, Unknown

HEAD = 'VERSION "3"\n\nNS_ :\n\nBS_:\n\nBU_: INV VCU BMS\n\n'
TEXT = (
    HEAD
    + """BO_ 385 InverterStatus1: 8 INV
 SG_ MotorSpeed : 0|16@1- (0.5,0) [-9000|9000] "rpm" VCU
 SG_ Page M : 16|4@1+ (1,0) [0|0] "" VCU
 SG_ Torque m3 : 31|12@0+ (0.1,-200) [-200|200] "Nm" VCU
 SG_ MsgCounter : 56|4@1+ (1,0) [0|15] "" VCU

BO_ 2566869221 PackLimits: 6 BMS
 SG_ Current : 0|32@1- (1,0) [0|0] "A" INV

BO_ 513 Request: 2 VCU
 SG_ Wanted : 0|8@1+ (1,0) [0|255] "" INV
 SG_ Beyond : 12|8@1+ (1,0) [0|255] "" INV

BO_ 514 Stranger: 1 BMS
 SG_ Lamp : 0|1@1+ (1,0) [0|1] "" VCU

EV_ Ambient: 0 [0|100] "" 0 1 DUMMY_NODE_VECTOR0 VCU;
CM_ BU_ INV "the drive";
CM_ BO_ 385 "What the drive does";
CM_ SG_ 385 MotorSpeed "Of the shaft, against the sun, as the picture on the page before the last one of the old manual shows it";
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;
BA_DEF_ BO_ "GenMsgSendType" ENUM "Cyclic","Event","NoMsgSendType";
BA_DEF_ BO_ "GenMsgDelayTime" INT 0 1000;
BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","StandardCAN_FD","ExtendedCAN_FD";
BA_DEF_ SG_ "GenSigFuncType" ENUM "None","Counter","CRC";
BA_DEF_ SG_ "GenSigStartValue" INT 0 100;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_DEF_DEF_ "GenMsgSendType" "NoMsgSendType";
BA_DEF_DEF_ "GenMsgDelayTime" 0;
BA_DEF_DEF_ "VFrameFormat" "StandardCAN";
BA_DEF_DEF_ "GenSigFuncType" "None";
BA_DEF_DEF_ "GenSigStartValue" 0;
BA_ "GenMsgCycleTime" BO_ 385 20;
BA_ "GenMsgSendType" BO_ 2566869221 1;
BA_ "GenMsgDelayTime" BO_ 2566869221 50;
BA_ "VFrameFormat" BO_ 385 2;
BA_ "GenSigFuncType" SG_ 385 MsgCounter 1;
BA_ "GenSigStartValue" SG_ 385 MotorSpeed 7;
VAL_ 513 Wanted 1 "on, please" 0 "off" ;
SIG_VALTYPE_ 2566869221 Current : 1;
SIG_GROUP_ 385 Both 1 : MotorSpeed Torque;
"""
)
PORTS = {"INV": "inverter.can", "BMS": "pack.can2"}


def read(text, ports=PORTS, name="drive.dbc"):
    return read_definition(text.encode(), name, ports)


def told(found):
    return {each.kind: each for each in found.left_out}


def test_a_message_has_its_identifier_with_the_file_as_source():
    found = read(TEXT).set
    message = found.messages["inverter_status1"]
    assert message.identifier == Known(385, source=Source("drive.dbc"))
    assert (message.width, message.length, message.frames) == ("11 bit", 8, "FD")
    assert message.title == "InverterStatus1: What the drive does"
    assert found.messages["pack_limits"].identifier.value == 0x18FF50E5
    assert found.messages["pack_limits"].width == "29 bit"
    assert found.definition == "definitions/drive.dbc"


def test_how_often_is_known_on_an_event_or_unknown():
    messages = read(TEXT).set.messages
    assert messages["inverter_status1"].period_s == Known(0.02, source=Source("drive.dbc"))
    assert messages["pack_limits"].period_s is None
    assert messages["pack_limits"].minimum_gap_s == Known(0.05, source=Source("drive.dbc"))
    assert messages["request"].period_s == Unknown()  # a default of 0 says nothing


def test_a_gap_of_a_message_in_a_cycle_and_a_cycle_beyond_a_day_are_told():
    found = read(
        TEXT.replace('"GenMsgDelayTime" BO_ 2566869221', '"GenMsgDelayTime" BO_ 385').replace(
            "BO_ 385 20;", "BO_ 385 99999999;"
        )
    )
    assert told(found)["least gaps of messages not known to be sent on events alone"].places == (
        "InverterStatus1: 50 ms",
    )
    assert told(found)["cycle times below zero or beyond a day"].places == ("InverterStatus1: 99999999 ms",)
    assert found.set.messages["inverter_status1"].period_s == Unknown()


def test_signals_have_bits_scale_range_unit_values_and_kind_of_number():
    messages = read(TEXT).set.messages
    speed, torque = (messages["inverter_status1"].signals[name] for name in ("motor_speed", "torque"))
    assert (speed.start, speed.bits, speed.byte_order, speed.number) == (0, 16, "little endian", "signed")
    assert (speed.factor, speed.offset, speed.low, speed.high, speed.unit) == (0.5, 0.0, -9000.0, 9000.0, "rpm")
    assert (torque.start, torque.bits, torque.byte_order, torque.offset) == (31, 12, "big endian", -200.0)
    assert messages["pack_limits"].signals["current"].number == "float"
    assert messages["pack_limits"].signals["current"].low is None
    assert messages["request"].signals["wanted"].values == ("0 off", "1 on, please")


def test_a_guard_is_taken_for_one_only_where_the_file_says_so():
    assert read(TEXT).set.messages["inverter_status1"].signals["msg_counter"].duty == "counter"
    plain = read(TEXT.replace('BA_ "GenSigFuncType" SG_ 385 MsgCounter 1;\n', ""))
    assert plain.set.messages["inverter_status1"].signals["msg_counter"].duty == "value"
    kind = "counters by name alone, taken for values because the file does not declare them"
    assert told(plain)[kind].places == ("InverterStatus1.MsgCounter",)
    assert kind not in told(read(TEXT))


def test_multiplexing_names_the_selecting_signal_and_its_values():
    signals = read(TEXT).set.messages["inverter_status1"].signals
    assert signals["page"].selects
    assert (signals["torque"].selected_by, signals["torque"].selected_when) == ("page", (3,))
    ranged = TEXT.replace("SIG_GROUP_", "SG_MUL_VAL_ 385 Torque Page 3-5, 9-9;\nSIG_GROUP_")
    assert read(ranged).set.messages["inverter_status1"].signals["torque"].selected_when == (3, 4, 5, 9)


def test_a_signal_whose_selector_is_open_is_left_out_and_told():
    for page in ("Page", "Page m0M"):
        found = read(TEXT.replace("Page M", page))
        assert "torque" not in found.set.messages["inverter_status1"].signals
    assert "torque" not in found.set.messages["inverter_status1"].signals
    kind = "multiplexed signals whose selecting signal or value the file leaves open"
    assert set(told(found)[kind].places) == {"InverterStatus1.Page", "InverterStatus1.Torque"}


def test_extended_multiplexing_hangs_one_selector_below_another():
    text = HEAD + (
        "BO_ 5 M: 8 INV\n"
        ' SG_ A M : 0|8@1+ (1,0) [0|0] "" VCU\n SG_ B m1M : 8|8@1+ (1,0) [0|0] "" VCU\n'
        ' SG_ C m2 : 16|8@1+ (1,0) [0|0] "" VCU\n'
        "SG_MUL_VAL_ 5 B A 1-1;\nSG_MUL_VAL_ 5 C B 2-2;\n"
    )
    signals = read(text).set.messages["m"].signals
    assert (signals["b"].selected_by, signals["b"].selected_when, signals["b"].selects) == ("a", (1,), True)
    assert (signals["c"].selected_by, signals["c"].selected_when) == ("b", (2,))


def test_everything_that_is_left_out_is_told_with_its_places():
    losses = {each.kind: each.places for each in read(TEXT).left_out if not each.taken}
    assert losses["signals outside of their frame"] == ("Request.Beyond",)
    assert losses["environment variables"] == ("Ambient",)
    assert losses["attribute GenSigStartValue"] == ("InverterStatus1.MotorSpeed: 7",)
    assert losses["groups of signals"] == ("InverterStatus1: Both",)
    assert losses["comments of nodes"] == ("INV",)
    assert losses["comments longer than 70 signs"] == ("InverterStatus1.MotorSpeed",)
    assert losses["version of the file"] == ("3",)
    assert len(losses["receivers of signals: the project tells them as needs of components"]) == 4


def test_a_message_of_another_node_is_expected_by_the_port_that_hears_it():
    found = read(TEXT).set
    assert (found.sender, found.messages["inverter_status1"].sender) == ("pack.can2", "inverter.can")
    assert found.messages["request"].expected_by == "inverter.can"
    assert found.messages["request"].sender == ""


def test_messages_between_strangers_are_left_out_and_told():
    found = read(TEXT, {"INV": "inverter.can"})
    assert set(found.set.messages) == {"inverter_status1", "pack_limits", "request"}
    kind = "messages between nodes that no port was given for"
    assert told(found)[kind].places == ("Stranger: sent by BMS",)


def test_without_receivers_the_one_component_expects_what_others_send():
    text = (
        HEAD
        + 'BO_ 5 A: 1 INV\n SG_ X : 0|8@1+ (1,0) [0|0] "" Vector__XXX\nBO_ 6 B: 1 VCU\n SG_ Y : 0|8@1+ (1,0) [0|0] "" Vector__XXX\n'
    )
    assert read(text, {"INV": "inverter.can"}).set.messages["b"].expected_by == "inverter.can"
    assert set(read(text, {"INV": "inverter.can", "BMS": "pack.can"}).set.messages) == {"a"}


def test_one_port_for_all_and_a_port_for_messages_without_a_sender():
    assert {each.sender for each in read(TEXT, {"": "x.can"}).set.messages.values()} == {""}
    text = HEAD + "BO_ 5 A: 1 Vector__XXX\n"
    assert read(text, {"-": "x.can"}).set.sender == "x.can"
    assert read(text).nodes == (("INV", 0), ("VCU", 0), ("BMS", 0), ("-", 1))


def test_names_that_become_the_same_are_told_apart():
    text = HEAD + "BO_ 5 StateA: 1 INV\nBO_ 6 State_A: 1 INV\nBO_ 7 state_a: 1 INV\nBO_ 8 _9: 1 INV\n"
    titles = {name: each.title for name, each in read(text).set.messages.items()}
    assert titles == {"state_a": "StateA", "state_a_2": "State_A", "state_a_3": "state_a", "m_9": "_9"}


def test_a_second_message_with_the_same_identifier_is_left_out_and_told():
    found = read(HEAD + "BO_ 5 A: 1 INV\nBO_ 5 B: 1 INV\n")
    assert set(found.set.messages) == {"a"}
    assert told(found)["messages whose identifier another one has already"].places == ("B: 0x5 is A's",)


def test_a_bad_statement_costs_itself_alone():
    bad = ' SG_ 7up : 0|8@1+ (1,0) [0|0] "" VCU\n'
    found = read(TEXT.replace("\nBO_ 513", bad + "\nBO_ 513"))
    assert set(found.set.messages) == set(read(TEXT).set.messages)
    (place,) = told(found)["statements that cannot be read"].places
    assert (
        place
        == f'line {TEXT[: TEXT.index(chr(10) + "BO_ 513")].count(chr(10)) + 1}: SG_ 7up : 0|8@1+ (1,0) [0|0] "" VCU'
    )


def test_a_torn_last_statement_is_told():
    found = read(HEAD + "BO_ 5 A: 1 INV\nBO_ 6 B: ")
    assert set(found.set.messages) == {"a"}
    assert told(found)["statements that cannot be read"].places == ("line 10: BO_ 6 B:",)


def test_a_missing_end_costs_its_own_statement_and_not_the_next():
    found = read(HEAD + 'CM_ "no end"\nBO_ 5 A: 1 INV\n SG_ X : 0|8@1+ (1,0) [0|0] "" VCU\n')
    assert set(found.set.messages["a"].signals) == {"x"}
    assert told(found)["statements that cannot be read"].places == ('line 9: CM_ "no end"',)


def test_a_wide_identifier_without_its_mark_is_taken_with_all_that_is_said_of_it():
    text = HEAD + 'BO_ 100000 Wide: 1 INV\n SG_ X : 0|8@1+ (1,0) [0|0] "" VCU\nCM_ SG_ 100000 X "about 100000";\n'
    message = read(text).set.messages["wide"]
    assert (message.identifier.value, message.width) == (100000, "29 bit")
    assert message.signals["x"].title == "X: about 100000"


def test_overlapping_signals_are_taken():
    line = ' SG_ X : 0|8@1+ (1,0) [0|0] "" VCU\n SG_ Y : 4|8@1+ (1,0) [0|0] "" VCU\n'
    found = read(HEAD + f"BO_ 5 A: 2 INV\n{line}BO_ 6 B: 2 INV\n{line}")
    assert all(len(each.signals) == 2 for each in found.set.messages.values())
    assert not any("strict" in each.kind or "overlapping" in " ".join(each.places) for each in found.left_out)


def test_what_is_said_of_nothing_is_told():
    found = read(TEXT + 'CM_ SG_ 385 Gone "away";\nVAL_ 385 Lost 0 "no" ;\n')
    assert any(
        "CM_ SG_ 385 Gone" in each
        for each in told(found)["statements about messages or signals that are not there"].places
    )
    assert told(found)["value names of signals that are not there"].count == 1


KCD = """<NetworkDefinition xmlns="http://kayak.2codeornot2code.org/1.0">
<Document name="d"/><Node id="1" name="INV"/>
<Bus name="Drive"><Message id="0x181" name="Status" length="8" interval="20" triggered="true"><Producer><NodeRef id="1"/></Producer>
<Signal name="Speed" offset="0" length="16"><Value slope="0.5" unit="rpm" type="signed"/></Signal></Message></Bus>
</NetworkDefinition>"""


def test_a_kcd_file_is_read_and_what_the_library_ignores_is_told():
    found = read(KCD, name="drive.kcd")
    message = found.set.messages["status"]
    assert (message.identifier.value, message.period_s.value) == (0x181, 0.02)
    assert message.signals["speed"].factor == 0.5
    assert any("triggered" in each for each in told(found)["told by the reading library"].places)


ARXML = """<AUTOSAR xmlns="http://autosar.org/schema/r4.0" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"
 xsi:schemaLocation="http://autosar.org/schema/r4.0 AUTOSAR_4-2-1.xsd"><AR-PACKAGES><AR-PACKAGE><SHORT-NAME>P</SHORT-NAME><ELEMENTS>
<CAN-CLUSTER><SHORT-NAME>Drive</SHORT-NAME><CAN-CLUSTER-VARIANTS><CAN-CLUSTER-CONDITIONAL><BAUDRATE>500000</BAUDRATE>
 <PHYSICAL-CHANNELS><CAN-PHYSICAL-CHANNEL><SHORT-NAME>C</SHORT-NAME><FRAME-TRIGGERINGS><CAN-FRAME-TRIGGERING><SHORT-NAME>T</SHORT-NAME>
 <FRAME-REF DEST="CAN-FRAME">/P/Status</FRAME-REF><CAN-ADDRESSING-MODE>STANDARD</CAN-ADDRESSING-MODE><IDENTIFIER>385</IDENTIFIER>
 </CAN-FRAME-TRIGGERING></FRAME-TRIGGERINGS></CAN-PHYSICAL-CHANNEL></PHYSICAL-CHANNELS></CAN-CLUSTER-CONDITIONAL></CAN-CLUSTER-VARIANTS>
</CAN-CLUSTER>
<CAN-FRAME><SHORT-NAME>Status</SHORT-NAME><FRAME-LENGTH>8</FRAME-LENGTH><PDU-TO-FRAME-MAPPINGS><PDU-TO-FRAME-MAPPING>
 <SHORT-NAME>M</SHORT-NAME><PDU-REF DEST="I-SIGNAL-I-PDU">/P/StatusPdu</PDU-REF><START-POSITION>0</START-POSITION>
 </PDU-TO-FRAME-MAPPING></PDU-TO-FRAME-MAPPINGS></CAN-FRAME>
<I-SIGNAL-I-PDU><SHORT-NAME>StatusPdu</SHORT-NAME><LENGTH>8</LENGTH><I-SIGNAL-TO-PDU-MAPPINGS><I-SIGNAL-TO-I-PDU-MAPPING>
 <SHORT-NAME>S</SHORT-NAME><I-SIGNAL-REF DEST="I-SIGNAL">/P/Speed</I-SIGNAL-REF>
 <PACKING-BYTE-ORDER>MOST-SIGNIFICANT-BYTE-LAST</PACKING-BYTE-ORDER><START-POSITION>8</START-POSITION>
 </I-SIGNAL-TO-I-PDU-MAPPING></I-SIGNAL-TO-PDU-MAPPINGS></I-SIGNAL-I-PDU>
<I-SIGNAL><SHORT-NAME>Speed</SHORT-NAME><LENGTH>16</LENGTH><SYSTEM-SIGNAL-REF DEST="SYSTEM-SIGNAL">/P/SpeedSignal</SYSTEM-SIGNAL-REF></I-SIGNAL>
<SYSTEM-SIGNAL><SHORT-NAME>SpeedSignal</SHORT-NAME></SYSTEM-SIGNAL>
</ELEMENTS></AR-PACKAGE></AR-PACKAGES></AUTOSAR>
"""


def test_an_arxml_file_is_read():
    found = read(ARXML, {"-": "inverter.can"}, "drive.arxml")
    message = found.set.messages["status"]
    assert (message.identifier.value, message.length, message.period_s) == (385, 8, Unknown())
    assert (message.signals["speed"].start, message.signals["speed"].bits) == (8, 16)
    assert found.bit_rates == (("Drive", 500e3),)


SYM = """FormatVersion=6.0 // Do not edit this line!
Title="drive"

{SEND}
[Status]
ID=181h
Len=8
CycleTime=20
Var=Speed signed 0,16 /u:rpm /f:0.5
"""


def test_a_sym_file_has_the_two_nodes_of_its_sections():
    found = read(SYM, {"ECU": "inverter.can"}, "drive.sym")
    assert found.set.messages["status"].signals["speed"].unit == "rpm"
    assert found.nodes == (("ECU", 1),)


@pytest.mark.parametrize(
    ("name", "text", "line"),
    [
        ("x.kcd", "<NetworkDefinition>\n<Bus></NetworkDefinition>", 2),
        ("x.sym", "FormatVersion=6.0\nTitle=\n[", 2),
        ("x.arxml", "<AUTOSAR/>", 0),
        ("x.dbc", "", 0),
        ("x.txt", "hello", 0),
        ("x.dbc", "this is no definition file at all\n" * 3, 1),
    ],
)
def test_what_cannot_be_read_is_a_problem_with_its_place(name, text, line):
    problem = read(text, name=name).problem
    assert problem is not None
    assert (problem.file, problem.line) == (name, line)


def test_signs_of_the_usual_code_page_are_read():
    raw = (HEAD + 'BO_ 5 A: 1 INV\n SG_ X : 0|8@1+ (1,0) [0|0] "°C" VCU\n').encode("cp1252")
    assert read_definition(raw, "x.dbc", PORTS).set.messages["a"].signals["x"].unit == "°C"


def test_reading_leaves_no_listener_behind():
    log = logging.getLogger("cantools")
    before = (list(log.handlers), log.level, log.propagate)
    read(KCD, name="drive.kcd")
    assert (list(log.handlers), log.level, log.propagate) == before


SPN = (
    'BA_DEF_ SG_ "SPN" INT 0 524287;\nBA_DEF_DEF_ "SPN" 0;\nBA_ "SPN" SG_ 385 MotorSpeed 190;\n'
    'BA_ "SPN" SG_ 385 Torque 0;\n'
)


def test_parameter_numbers_are_told_where_there_is_one_and_not_by_default():
    found = told(read(TEXT + SPN))
    assert found["suspect parameter numbers (SPN)"].places == ("InverterStatus1.MotorSpeed: 190",)
    assert not any("SPN" in kind for kind in told(read(TEXT + SPN.replace(" 190;", " 0;"))))


def test_a_message_in_a_cycle_and_on_events_has_its_cycle_as_an_assumption():
    text = TEXT.replace('"Cyclic","Event"', '"CyclicAndSpontaneous","Event"')
    found = read(text.replace("BO_ 385 20;", 'BO_ 385 20;\nBA_ "GenMsgSendType" BO_ 385 0;'))
    period = found.set.messages["inverter_status1"].period_s
    assert isinstance(period, Assumed)
    assert period.value == 0.02
    assert period.why.startswith("drive.dbc has it sent in this cycle and on events too")
    (each,) = (each for each in found.left_out if each.kind.startswith("messages sent in a cycle and on events"))
    assert (each.places, each.taken) == (("InverterStatus1: 20 ms",), True)


def test_a_message_in_a_cycle_while_active_has_a_known_cycle():
    text = TEXT.replace('"Cyclic","Event"', '"CyclicIfActive","Event"')
    found = read(text.replace("BO_ 385 20;", 'BO_ 385 20;\nBA_ "GenMsgSendType" BO_ 385 0;'))
    assert found.set.messages["inverter_status1"].period_s == Known(0.02, source=Source("drive.dbc"))


FACTS = (
    'BA_DEF_ BU_ "NmStationAddress" INT 0 255;\nBA_DEF_DEF_ "NmStationAddress" 254;\n'
    'BA_DEF_ "Baudrate" INT 0 1000000;\nBA_DEF_DEF_ "Baudrate" 250000;\n'
    'BA_DEF_ BO_ "GenMsgCycleTimeFast" INT 0 65535;\nBA_DEF_DEF_ "GenMsgCycleTimeFast" 0;\n'
    'BA_DEF_ BO_ "GenMsgNrOfRepetition" INT 0 99;\nBA_DEF_DEF_ "GenMsgNrOfRepetition" 0;\n'
    'BA_ "NmStationAddress" BU_ INV 3;\nBA_ "NmStationAddress" BU_ BMS 229;\n'
    'BA_ "GenMsgCycleTimeFast" BO_ 385 10;\nBA_ "GenMsgNrOfRepetition" BO_ 385 3;\n'
)


def test_facts_of_nodes_and_the_bus_are_read_and_second_cycles_told_with_their_values():
    found = read(TEXT + FACTS)
    assert found.addresses == (("INV", 3, False), ("BMS", 229, True))
    assert found.bit_rates == (("", 250e3),)
    assert read(TEXT + FACTS + 'BA_ "Baudrate" 500;\n').bit_rates == (("", 500e3),)
    (faster,) = (each for each in found.left_out if each.kind.startswith("faster cycles"))
    assert faster.places == ("InverterStatus1: 10 ms, 20 ms else",)
    assert told(found)["attribute GenMsgNrOfRepetition"].places == ("InverterStatus1: 3",)


def test_the_bit_rate_of_a_kcd_file_that_states_none_is_not_the_library_s_default():
    assert read(KCD, name="drive.kcd").bit_rates == ()
    stated = KCD.replace('<Bus name="Drive">', '<Bus name="Drive" baudrate="250000">')
    assert read(stated, name="drive.kcd").bit_rates == (("Drive", 250e3),)


def test_what_touches_timing_stands_before_meaning_and_names_stand_last():
    kinds = [each.kind for each in read(TEXT + FACTS).left_out]
    order = [
        next(number for number, kind in enumerate(kinds) if kind.startswith(beginning))
        for beginning in ("faster cycles", "attribute GenMsgNr", "signals outside", "comments of nodes", "names of")
    ]
    assert order == sorted(order)
    assert all(kind.startswith("names of") for kind in kinds[order[-1] :])


@pytest.mark.parametrize(
    "end", ["SG_ T_Motor m0", 'CM_ SG_ 385 Torque "no', "BA_", "BA", "BO_ 700 Lat", "VAL_ 385 Page 0"]
)
def test_a_file_that_ends_in_the_middle_is_known_by_its_last_line(end):
    whole = TEXT[: TEXT.index("EV_ ")]
    assert read(TEXT).torn == 0
    assert read(whole).torn == 0
    found = read(whole + end)
    assert found.torn == whole.count("\n") + 1
    assert found.problem is None


def test_cut_anywhere_but_behind_a_statement_a_file_is_known_to_be_torn():
    begin = TEXT.index("BO_ 385")
    overlooked = [TEXT[:end] for end in range(begin, len(TEXT)) if torn_at(TEXT[:end]) == 0]
    assert len(overlooked) > 20  # or the test would not look at whole statements
    for each in overlooked:
        assert each.rstrip().endswith((";", " VCU", " INV", " BMS")), each[-60:]


def test_the_library_is_loaded_only_when_a_file_is_read():
    code = "import sys, loomwright.files.definition, loomwright.app.definitions; print('cantools' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_message_whose_identifier_no_frame_can_have_costs_itself_alone():
    found = read(HEAD + "BO_ 5 A: 1 INV\nBO_ 4294967295 B: 1 INV\nBO_ 1075054137 C: 1 INV\n")
    assert set(found.set.messages) == {"a"}
    assert told(found)["messages that cannot be read"].count == 2


BOX = Component("other", "here", ports=Table({"can": Port()}))
VEHICLE = Vehicle("x", 4.0, 2.0, places=Table({"here": Place(1.0, 0.0)}), components=Table({"x": BOX}))


@settings(max_examples=150, deadline=None, phases=(Phase.reuse, Phase.generate))
@given(st.sampled_from([("dbc", TEXT), ("kcd", KCD), ("sym", SYM), ("arxml", ARXML)]), st.data())
def test_damaged_files_never_raise(which, data):
    """Pieces cut out, doubled or overwritten anywhere."""
    ending, text = which
    for _ in range(data.draw(st.integers(1, 3))):
        begin = data.draw(st.integers(0, len(text)))
        end = min(len(text), begin + data.draw(st.integers(0, 30)))
        put = data.draw(
            st.sampled_from(["", text[begin:end] * 2, '"', ";", "-1", "99999999999", "1e999", "\x00", "m1M", "<", "ä"])
        )
        text = text[:begin] + put + text[end:]
    found = read(text, {"": "x.can"}, f"damaged.{ending}")
    assert found.problem is None or not found.set.messages
    assert understood(project_texts(replace(VEHICLE, messages=Table({"damaged": found.set})))).problems == ()
    for message in found.set.messages.values():
        for signal in message.signals.values():
            assert bytes_needed(signal.start, signal.bits, signal.byte_order) <= message.length

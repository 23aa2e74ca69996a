//! The `Terse` personality: fixed-width ASCII, no terminators, no reply to a write.
//!
//! 9600 baud, 8 data bits, no parity, 1 stop bit. Commands and replies have no terminator either way; letters
//! are case-sensitive. The whole table:
//!
//! | command | bytes | meaning | reply |
//! | --- | --- | --- | --- |
//! | `Cd.dddd` | 7 | set current in amperes, `C0.3500` | none |
//! | `Vdd.ddd` | 7 | set voltage in volts, `V02.500` | none |
//! | `Pdd.ddd` | 7 | over-voltage protection level in volts, `P02.700` | none |
//! | `Qd.dddd` | 7 | over-current protection level in amperes, `Q3.1000` | none |
//! | `X1` `X0` | 2 | output on, output off | none |
//! | `k` | 1 | clear a tripped protection; the output stays off | none |
//! | `c` | 1 | measured current | 6 bytes `d.dddd` |
//! | `v` | 1 | measured voltage | 6 bytes `dd.ddd` |
//! | `g` | 1 | setpoints | 12 bytes: current `d.dddd`, then voltage `dd.ddd` |
//! | `p` | 1 | protection levels | 12 bytes: voltage `dd.ddd`, then current `d.dddd` |
//! | `s` | 1 | status | 1 raw byte, see below |
//! | `?` | 1 | identity | 16 bytes `SIM-TERSE-01 V10` |
//!
//! Status byte: bit 0 (0x01) output on; bit 1 (0x02) constant current (clear: constant voltage; says nothing while
//! the output is off, and is then clear); bit 2 (0x04) over-voltage protection tripped; bit 3 (0x08)
//! over-current protection tripped; bits 4 to 6 clear; bit 7 (0x80) always set.
//!
//! - Ratings 30.000 V and 5.0000 A; protection levels up to 33.000 V and 5.5000 A. Both protections are always armed.
//! - A command that is not in the table, a number of another form, or one beyond the rating is ignored without a word;
//!   so is `X1` while a protection is tripped. A negative measurement shows as zero.
//! - A command takes 40 ms to digest. Characters that arrive in that time are lost, and so are those that arrive while a
//!   reply is being sent. The first byte of a reply leaves when the command is digested (40 ms after its last
//!   byte came), the rest follow at wire speed: leave 50 ms after a write and none after a complete reply.
//! - Half a command is forgotten when its next byte does not come within 100 ms.
//! - After power-on: output off, current 0.0000 A, voltage 0.000 V, protections at their highest levels.

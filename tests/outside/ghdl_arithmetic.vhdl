-- Computes each line of cases.txt with the packages of IEEE 1076-2008 and writes size and bits to results.txt.
-- A line: kind op la ra lb rb tl tr saturate nearest literal a b
--   kind: u s uf sf; la ra, lb rb: ends of the operands; tl tr: ends asked for; literal: a whole number;
--   a, b: the operands' bits.  A result line: left right bits.
library ieee;
use ieee.std_logic_1164.all;
use ieee.numeric_std.all;
use ieee.fixed_float_types.all;
use ieee.fixed_pkg.all;
use std.textio.all;

entity ghdl_arithmetic is
end entity;

architecture bench of ghdl_arithmetic is
  file results : text open write_mode is "results.txt";

  procedure put(left, right : integer; bits : std_ulogic_vector) is
    variable l : line;
  begin
    write(l, left); write(l, ' '); write(l, right); write(l, ' '); write(l, bits);
    writeline(results, l);
  end procedure;

  procedure put(x : ufixed) is begin put(x'high, x'low, to_sulv(x)); end procedure;
  procedure put(x : sfixed) is begin put(x'high, x'low, to_sulv(x)); end procedure;
  procedure put(x : unsigned) is begin put(x'length - 1, 0, std_ulogic_vector(x)); end procedure;
  procedure put(x : signed) is begin put(x'length - 1, 0, std_ulogic_vector(x)); end procedure;
  procedure put(x : boolean) is
  begin
    if x then put(0, 0, "1"); else put(0, 0, "0"); end if;
  end procedure;

  procedure word(l : inout line; w : out string; n : out natural) is
    variable c : character;
    variable good : boolean;
    variable count : natural := 0;
  begin
    loop
      read(l, c, good);
      exit when not good or c = ' ';
      count := count + 1;
      w(w'low + count - 1) := c;
    end loop;
    n := count;
  end procedure;

  procedure do_u(op : string; la, lb, tl, lit : integer; va, vb : std_ulogic_vector) is
    variable a : unsigned(la downto 0) := unsigned(va);
    variable b : unsigned(lb downto 0) := unsigned(vb);
  begin
    if op = "add" then put(a + b);
    elsif op = "sub" then put(a - b);
    elsif op = "mul" then put(a * b);
    elsif op = "div" then put(a / b);
    elsif op = "rem" then put(a rem b);
    elsif op = "mod" then put(a mod b);
    elsif op = "min" then put(minimum(a, b));
    elsif op = "max" then put(maximum(a, b));
    elsif op = "eq" then put(a = b);
    elsif op = "ne" then put(a /= b);
    elsif op = "lt" then put(a < b);
    elsif op = "le" then put(a <= b);
    elsif op = "gt" then put(a > b);
    elsif op = "ge" then put(a >= b);
    elsif op = "and" then put(a and b);
    elsif op = "or" then put(a or b);
    elsif op = "xor" then put(a xor b);
    elsif op = "not" then put(not a);
    elsif op = "shl" then put(shift_left(a, lit));
    elsif op = "shr" then put(shift_right(a, lit));
    elsif op = "shlv" then put(shift_left(a, to_integer(b)));
    elsif op = "shrv" then put(shift_right(a, to_integer(b)));
    elsif op = "resize" then put(resize(a, tl + 1));
    elsif op = "cast" then put(signed(a));
    elsif op = "cat" then put(a & b);
    elsif op = "addi" then put(a + lit);
    elsif op = "iadd" then put(lit + a);
    elsif op = "subi" then put(a - lit);
    elsif op = "isub" then put(lit - a);
    elsif op = "muli" then put(a * lit);
    elsif op = "imul" then put(lit * a);
    elsif op = "divi" then put(a / lit);
    elsif op = "idiv" then put(lit / a);
    elsif op = "remi" then put(a rem lit);
    elsif op = "irem" then put(lit rem a);
    elsif op = "modi" then put(a mod lit);
    elsif op = "imod" then put(lit mod a);
    elsif op = "mini" then put(minimum(a, lit));
    elsif op = "maxi" then put(maximum(lit, a));
    elsif op = "eqi" then put(a = lit);
    elsif op = "nei" then put(a /= lit);
    elsif op = "lti" then put(a < lit);
    elsif op = "lei" then put(a <= lit);
    elsif op = "gti" then put(a > lit);
    elsif op = "gei" then put(a >= lit);
    else report "unknown operation " & op severity failure;
    end if;
  end procedure;

  procedure do_s(op : string; la, lb, tl, lit : integer; va, vb : std_ulogic_vector) is
    variable a : signed(la downto 0) := signed(va);
    variable b : signed(lb downto 0) := signed(vb);
  begin
    if op = "add" then put(a + b);
    elsif op = "sub" then put(a - b);
    elsif op = "mul" then put(a * b);
    elsif op = "div" then put(a / b);
    elsif op = "rem" then put(a rem b);
    elsif op = "mod" then put(a mod b);
    elsif op = "min" then put(minimum(a, b));
    elsif op = "max" then put(maximum(a, b));
    elsif op = "eq" then put(a = b);
    elsif op = "ne" then put(a /= b);
    elsif op = "lt" then put(a < b);
    elsif op = "le" then put(a <= b);
    elsif op = "gt" then put(a > b);
    elsif op = "ge" then put(a >= b);
    elsif op = "and" then put(a and b);
    elsif op = "or" then put(a or b);
    elsif op = "xor" then put(a xor b);
    elsif op = "not" then put(not a);
    elsif op = "neg" then put(-a);
    elsif op = "abs" then put(abs a);
    elsif op = "shl" then put(shift_left(a, lit));
    elsif op = "shr" then put(shift_right(a, lit));
    elsif op = "shlv" then put(shift_left(a, to_integer(unsigned(b))));
    elsif op = "shrv" then put(shift_right(a, to_integer(unsigned(b))));
    elsif op = "resize" then put(resize(a, tl + 1));
    elsif op = "cast" then put(unsigned(a));
    elsif op = "cat" then put(a & b);
    elsif op = "addi" then put(a + lit);
    elsif op = "iadd" then put(lit + a);
    elsif op = "subi" then put(a - lit);
    elsif op = "isub" then put(lit - a);
    elsif op = "muli" then put(a * lit);
    elsif op = "imul" then put(lit * a);
    elsif op = "divi" then put(a / lit);
    elsif op = "idiv" then put(lit / a);
    elsif op = "remi" then put(a rem lit);
    elsif op = "irem" then put(lit rem a);
    elsif op = "modi" then put(a mod lit);
    elsif op = "imod" then put(lit mod a);
    elsif op = "mini" then put(minimum(a, lit));
    elsif op = "maxi" then put(maximum(lit, a));
    elsif op = "eqi" then put(a = lit);
    elsif op = "nei" then put(a /= lit);
    elsif op = "lti" then put(a < lit);
    elsif op = "lei" then put(a <= lit);
    elsif op = "gti" then put(a > lit);
    elsif op = "gei" then put(a >= lit);
    else report "unknown operation " & op severity failure;
    end if;
  end procedure;

  procedure do_uf(op : string; la, ra, lb, rb, tl, tr, lit : integer; overflow : fixed_overflow_style_type;
                  rounding : fixed_round_style_type; va, vb : std_ulogic_vector) is
    variable a : ufixed(la downto ra) := to_ufixed(va, la, ra);
    variable b : ufixed(lb downto rb) := to_ufixed(vb, lb, rb);
    constant number : real := real(lit) * 2.0**ra;
  begin
    if op = "add" then put(a + b);
    elsif op = "sub" then put(a - b);
    elsif op = "mul" then put(a * b);
    elsif op = "div" then put(a / b);
    elsif op = "rem" then put(a rem b);
    elsif op = "mod" then put(a mod b);
    elsif op = "reciprocal" then put(reciprocal(a));
    elsif op = "min" then put(minimum(a, b));
    elsif op = "max" then put(maximum(a, b));
    elsif op = "eq" then put(a = b);
    elsif op = "ne" then put(a /= b);
    elsif op = "lt" then put(a < b);
    elsif op = "le" then put(a <= b);
    elsif op = "gt" then put(a > b);
    elsif op = "ge" then put(a >= b);
    elsif op = "and" then put(a and b);
    elsif op = "or" then put(a or b);
    elsif op = "xor" then put(a xor b);
    elsif op = "not" then put(not a);
    elsif op = "shl" then put(a sll lit);
    elsif op = "shr" then put(a sra lit);
    elsif op = "shlv" then put(shift_left(a, to_integer(unsigned(vb))));
    elsif op = "shrv" then put(shift_right(a, to_integer(unsigned(vb))));
    elsif op = "scalb" then put(scalb(a, lit));
    elsif op = "resize" then put(resize(a, tl, tr, overflow, rounding));
    elsif op = "to_integers" then put(to_unsigned(a, tl + 1, overflow, rounding));
    elsif op = "from_integers" then put(to_ufixed(unsigned(va), tl, tr, overflow, rounding));
    elsif op = "addr" then put(a + number);
    elsif op = "rsub" then put(number - a);
    elsif op = "mulr" then put(a * number);
    elsif op = "divr" then put(a / number);
    elsif op = "modr" then put(a mod number);
    elsif op = "minr" then put(minimum(a, number));
    elsif op = "eqr" then put(a = number);
    elsif op = "ltr" then put(a < number);
    elsif op = "ger" then put(a >= number);
    elsif op = "addi" then put(a + lit);
    elsif op = "isub" then put(lit - a);
    elsif op = "muli" then put(a * lit);
    elsif op = "divi" then put(a / lit);
    elsif op = "idiv" then put(lit / a);
    elsif op = "remi" then put(a rem lit);
    else report "unknown operation " & op severity failure;
    end if;
  end procedure;

  procedure do_sf(op : string; la, ra, lb, rb, tl, tr, lit : integer; overflow : fixed_overflow_style_type;
                  rounding : fixed_round_style_type; va, vb : std_ulogic_vector) is
    variable a : sfixed(la downto ra) := to_sfixed(va, la, ra);
    variable b : sfixed(lb downto rb) := to_sfixed(vb, lb, rb);
    constant number : real := real(lit) * 2.0**ra;
  begin
    if op = "add" then put(a + b);
    elsif op = "sub" then put(a - b);
    elsif op = "mul" then put(a * b);
    elsif op = "div" then put(a / b);
    elsif op = "rem" then put(a rem b);
    elsif op = "mod" then put(a mod b);
    elsif op = "reciprocal" then put(reciprocal(a));
    elsif op = "neg" then put(-a);
    elsif op = "abs" then put(abs a);
    elsif op = "min" then put(minimum(a, b));
    elsif op = "max" then put(maximum(a, b));
    elsif op = "eq" then put(a = b);
    elsif op = "ne" then put(a /= b);
    elsif op = "lt" then put(a < b);
    elsif op = "le" then put(a <= b);
    elsif op = "gt" then put(a > b);
    elsif op = "ge" then put(a >= b);
    elsif op = "and" then put(a and b);
    elsif op = "or" then put(a or b);
    elsif op = "xor" then put(a xor b);
    elsif op = "not" then put(not a);
    elsif op = "shl" then put(a sll lit);
    elsif op = "shr" then put(a sra lit);
    elsif op = "shlv" then put(shift_left(a, to_integer(unsigned(vb))));
    elsif op = "shrv" then put(shift_right(a, to_integer(unsigned(vb))));
    elsif op = "scalb" then put(scalb(a, lit));
    elsif op = "resize" then put(resize(a, tl, tr, overflow, rounding));
    elsif op = "to_integers" then put(to_signed(a, tl + 1, overflow, rounding));
    elsif op = "from_integers" then put(to_sfixed(signed(va), tl, tr, overflow, rounding));
    elsif op = "addr" then put(a + number);
    elsif op = "rsub" then put(number - a);
    elsif op = "mulr" then put(a * number);
    elsif op = "divr" then put(a / number);
    elsif op = "modr" then put(a mod number);
    elsif op = "minr" then put(minimum(a, number));
    elsif op = "eqr" then put(a = number);
    elsif op = "ltr" then put(a < number);
    elsif op = "ger" then put(a >= number);
    elsif op = "addi" then put(a + lit);
    elsif op = "isub" then put(lit - a);
    elsif op = "muli" then put(a * lit);
    elsif op = "divi" then put(a / lit);
    elsif op = "idiv" then put(lit / a);
    elsif op = "remi" then put(a rem lit);
    else report "unknown operation " & op severity failure;
    end if;
  end procedure;

  procedure one(kind, op : string; la, ra, lb, rb, tl, tr, sat, near, lit : integer; l : inout line) is
    variable va : std_ulogic_vector(la - ra downto 0);
    variable vb : std_ulogic_vector(lb - rb downto 0);
    variable overflow : fixed_overflow_style_type := fixed_wrap;
    variable rounding : fixed_round_style_type := fixed_truncate;
  begin
    read(l, va); read(l, vb);
    if sat = 1 then overflow := fixed_saturate; end if;
    if near = 1 then rounding := fixed_round; end if;
    if kind = "u" then do_u(op, la, lb, tl, lit, va, vb);
    elsif kind = "s" then do_s(op, la, lb, tl, lit, va, vb);
    elsif kind = "uf" then do_uf(op, la, ra, lb, rb, tl, tr, lit, overflow, rounding, va, vb);
    else do_sf(op, la, ra, lb, rb, tl, tr, lit, overflow, rounding, va, vb);
    end if;
  end procedure;
begin
  process
    file cases : text open read_mode is "cases.txt";
    variable l : line;
    variable kind, op : string(1 to 20);
    variable nk, no : natural;
    variable la, ra, lb, rb, tl, tr, sat, near, lit : integer;
  begin
    while not endfile(cases) loop
      readline(cases, l);
      word(l, kind, nk); word(l, op, no);
      read(l, la); read(l, ra); read(l, lb); read(l, rb); read(l, tl); read(l, tr);
      read(l, sat); read(l, near); read(l, lit);
      one(kind(1 to nk), op(1 to no), la, ra, lb, rb, tl, tr, sat, near, lit, l);
    end loop;
    wait;
  end process;
end architecture;

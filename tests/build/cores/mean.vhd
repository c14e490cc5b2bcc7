-- Mean of the last two values.
library ieee;
use ieee.std_logic_1164.all;
use ieee.numeric_std.all;

entity mean is
  port (clk : in std_logic; x : in unsigned(7 downto 0); y : out unsigned(7 downto 0));
end entity;

architecture rtl of mean is
  signal before : unsigned(7 downto 0) := (others => '0');
begin
  process (clk) begin
    if rising_edge(clk) then
      before <= x;
      y <= resize(shift_right(resize(x, 9) + before, 1), 8);
    end if;
  end process;
end architecture;

// A serial sender: a start bit, eight bits with the lowest first, a stop bit; DIVISOR ticks a bit.
module sender #(parameter DIVISOR = 5) (
    input wire clk, input wire start, input wire [7:0] word, output wire line, output reg busy
);
    reg [9:0] shift = 10'h3ff;
    reg [3:0] left = 0;
    reg [7:0] ticks = 0;
    assign line = shift[0];
    initial busy = 0;
    always @(posedge clk) begin
        if (!busy) begin
            if (start) begin
                shift <= {1'b1, word, 1'b0};
                left <= 10;
                ticks <= DIVISOR - 1;
                busy <= 1;
            end
        end else if (ticks != 0) ticks <= ticks - 1;
        else begin
            shift <= {1'b1, shift[9:1]};
            ticks <= DIVISOR - 1;
            left <= left - 1;
            if (left == 1) busy <= 0;
        end
    end
endmodule

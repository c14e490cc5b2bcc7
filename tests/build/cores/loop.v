module loop (input wire clk, input wire a, output wire y);
    wire p, q;
    assign p = q ^ a;
    assign q = p | a;
    assign y = q;
endmodule

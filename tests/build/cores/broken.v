module broken (input wire clk, output reg q);
    always @(posedge clk) q <= ;
endmodule

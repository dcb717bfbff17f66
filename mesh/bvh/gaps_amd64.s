#include "textflag.h"
#include "lanes_amd64.h"

// One axis: the gap to the eight intervals, squared, is added to Y1. All lanes of
// Y5 hold the place along the axis.
#define AXIS(lo, hi, step) \
	INTERVALS(lo, hi, step);   \
	VSUBPS       Y5, Y2, Y2;   \
	VSUBPS       Y3, Y5, Y3;   \
	VMAXPS       Y3, Y2, Y2;   \
	VMAXPS       Y0, Y2, Y2;   \
	VMULPS       Y2, Y2, Y2;   \
	VADDPS       Y2, Y1, Y1

// func gaps(n *wideNode, q *[3]float32, limit float32, d *[lanes]float32) uint32
TEXT ·gaps(SB), NOSPLIT, $0-36
	MOVQ n+0(FP), AX
	MOVQ q+8(FP), BX
	MOVQ d+24(FP), CX

	TURNED(0, X8)
	VSUBPS       84(AX), X8, X8

	VXORPS       Y0, Y0, Y0
	VXORPS       Y1, Y1, Y1
	VBROADCASTSS X8, Y5
	AXIS(0, 24, 96)
	VPERMILPS    $0x55, X8, X5
	VBROADCASTSS X5, Y5
	AXIS(8, 32, 100)
	VPERMILPS    $0xAA, X8, X5
	VBROADCASTSS X5, Y5
	AXIS(16, 40, 104)

	VBROADCASTSS limit+16(FP), Y3
	VMOVUPS      Y1, (CX)
	VCMPPS       $2, Y3, Y1, Y1
	VMOVMSKPS    Y1, AX
	VZEROUPPER
	MOVL         AX, ret+32(FP)
	RET

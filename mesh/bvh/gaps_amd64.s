#include "textflag.h"

// One axis: the gap to the eight intervals, squared, is added to Y1. All lanes of
// Y5 hold the place along the axis.
#define AXIS(lo, hi, step) \
	VPMOVZXBD    lo(AX), Y2;   \
	VPMOVZXBD    hi(AX), Y3;   \
	VBROADCASTSS step(AX), Y4; \
	VCVTDQ2PS    Y2, Y2;       \
	VCVTDQ2PS    Y3, Y3;       \
	VMULPS       Y4, Y2, Y2;   \
	VMULPS       Y4, Y3, Y3;   \
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

	// X8 = frame q - base; the fourth lane is the next field and means nothing.
	VBROADCASTSS 0(BX), X8
	VBROADCASTSS 4(BX), X6
	VBROADCASTSS 8(BX), X7
	VMULPS       48(AX), X8, X8
	VMULPS       60(AX), X6, X6
	VMULPS       72(AX), X7, X7
	VADDPS       X6, X8, X8
	VADDPS       X7, X8, X8
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

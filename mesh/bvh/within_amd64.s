#include "textflag.h"

// One axis: the gap between the eight intervals and the one from Y6 to Y5, squared, is added to Y1.
#define AXIS(lo, hi, step) \
	VPMOVZXBD    lo(AX), Y2;   \
	VPMOVZXBD    hi(AX), Y3;   \
	VBROADCASTSS step(AX), Y4; \
	VCVTDQ2PS    Y2, Y2;       \
	VCVTDQ2PS    Y3, Y3;       \
	VMULPS       Y4, Y2, Y2;   \
	VMULPS       Y4, Y3, Y3;   \
	VSUBPS       Y5, Y2, Y2;   \
	VSUBPS       Y3, Y6, Y3;   \
	VMAXPS       Y3, Y2, Y2;   \
	VMAXPS       Y0, Y2, Y2;   \
	VMULPS       Y2, Y2, Y2;   \
	VADDPS       Y2, Y1, Y1

// func within(n *wideNode, mid, half *[3]float32, limit float32) uint32
TEXT ·within(SB), NOSPLIT, $0-36
	MOVQ n+0(FP), AX
	MOVQ mid+8(FP), BX
	MOVQ half+16(FP), CX

	// X8 = frame mid - base, X9 = |frame half|; the fourth lane is the next field and means nothing.
	VBROADCASTSS 0(BX), X8
	VBROADCASTSS 4(BX), X6
	VBROADCASTSS 8(BX), X7
	VMULPS       48(AX), X8, X8
	VMULPS       60(AX), X6, X6
	VMULPS       72(AX), X7, X7
	VADDPS       X6, X8, X8
	VADDPS       X7, X8, X8
	VSUBPS       84(AX), X8, X8
	VBROADCASTSS 0(CX), X9
	VBROADCASTSS 4(CX), X6
	VBROADCASTSS 8(CX), X7
	VMULPS       48(AX), X9, X9
	VMULPS       60(AX), X6, X6
	VMULPS       72(AX), X7, X7
	VADDPS       X6, X9, X9
	VADDPS       X7, X9, X9
	VPCMPEQD     X6, X6, X6
	VPSRLD       $1, X6, X6
	VANDPS       X6, X9, X9
	VADDPS       X9, X8, X10
	VSUBPS       X9, X8, X8

	VXORPS       Y0, Y0, Y0
	VXORPS       Y1, Y1, Y1
	VBROADCASTSS X10, Y5
	VBROADCASTSS X8, Y6
	AXIS(0, 24, 96)
	VPERMILPS    $0x55, X10, X5
	VPERMILPS    $0x55, X8, X6
	VBROADCASTSS X5, Y5
	VBROADCASTSS X6, Y6
	AXIS(8, 32, 100)
	VPERMILPS    $0xAA, X10, X5
	VPERMILPS    $0xAA, X8, X6
	VBROADCASTSS X5, Y5
	VBROADCASTSS X6, Y6
	AXIS(16, 40, 104)

	VBROADCASTSS limit+24(FP), Y3
	VCMPPS       $2, Y3, Y1, Y1
	VMOVMSKPS    Y1, AX
	VZEROUPPER
	MOVL         AX, ret+32(FP)
	RET

#include "textflag.h"
#include "lanes_amd64.h"

// One axis: the gap between the eight intervals and the one from Y6 to Y5, squared, is added to sum.
#define GAP(lo, hi, sum) \
	INTERVALS(lo, hi);         \
	VSUBPS       Y5, Y2, Y2;   \
	VSUBPS       Y3, Y6, Y3;   \
	VMAXPS       Y3, Y2, Y2;   \
	VMAXPS       Y0, Y2, Y2;   \
	VMULPS       Y2, Y2, Y2;   \
	VADDPS       Y2, sum, sum

#define FIRST(lo, hi) GAP(lo, hi, Y1)
#define SECOND(lo, hi) GAP(lo, hi, Y9)

// func within(n *wideNode, mid, half *[3]float32, limit float32) uint32
TEXT ·within(SB), NOSPLIT, $0-36
	MOVQ n+0(FP), AX

	// X8 and X10 are the ends of the box asked for along the axes, from the base on.
	MOVQ mid+8(FP), BX
	TURNED(0, X8)
	FROMBASE(X8)
	MOVQ half+16(FP), BX
	TURNED(0, X9)
	VPCMPEQD     X6, X6, X6
	VPSRLD       $1, X6, X6
	VANDPS       X6, X9, X9 // without its sign
	VADDPS       X9, X8, X10
	VSUBPS       X9, X8, X8

	VXORPS       Y0, Y0, Y0
	VXORPS       Y1, Y1, Y1
	VXORPS       Y9, Y9, Y9
	EACHAXIS(X10, X8)

	VBROADCASTSS limit+24(FP), Y3
	WITHIN(Y1, Y9, Y3, Y3)
	MOVL         AX, ret+32(FP)
	RET

#include "textflag.h"
#include "lanes_amd64.h"

// One axis: the gap to the eight intervals, squared, is added to sum. All lanes of
// Y5 hold the place along the axis.
#define GAP(lo, hi, sum) \
	INTERVALS(lo, hi);         \
	VSUBPS       Y5, Y2, Y2;   \
	VSUBPS       Y3, Y5, Y3;   \
	VMAXPS       Y3, Y2, Y2;   \
	VMAXPS       Y0, Y2, Y2;   \
	VMULPS       Y2, Y2, Y2;   \
	VADDPS       Y2, sum, sum

#define FIRST(lo, hi) GAP(lo, hi, Y1)
#define SECOND(lo, hi) GAP(lo, hi, Y9)

// func gaps(n *wideNode, q *[3]float32, limit float32, d *[width]float32) uint32
TEXT ·gaps(SB), NOSPLIT, $0-36
	MOVQ n+0(FP), AX
	MOVQ q+8(FP), BX
	MOVQ d+24(FP), CX

	TURNED(0, X8)
	FROMBASE(X8)
	VXORPS       Y0, Y0, Y0
	VXORPS       Y1, Y1, Y1
	VXORPS       Y9, Y9, Y9
	EACHAXIS(X8, X8)

	VBROADCASTSS limit+16(FP), Y3
	VMOVUPS      Y1, (CX)
	VMOVUPS      Y9, 32(CX)
	WITHIN(Y1, Y9, Y3, Y3)
	MOVL         AX, ret+32(FP)
	RET

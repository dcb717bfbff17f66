#include "textflag.h"
#include "lanes_amd64.h"

DATA one<>+0(SB)/4, $1.0
GLOBL one<>(SB), RODATA|NOPTR, $4
DATA farthest<>+0(SB)/4, $1e30
GLOBL farthest<>(SB), RODATA|NOPTR, $4
DATA nearest<>+0(SB)/4, $-1e30
GLOBL nearest<>(SB), RODATA|NOPTR, $4

// One axis: start and end, where the ray enters and leaves the eight boxes, are cut to
// the eight intervals. All lanes of Y5 and Y6 hold the origin and the inverse direction along the axis.
#define CUT(lo, hi, start, end) \
	INTERVALS(lo, hi);         \
	VSUBPS       Y5, Y2, Y2;   \
	VSUBPS       Y5, Y3, Y3;   \
	VMULPS       Y6, Y2, Y2;   \
	VMULPS       Y6, Y3, Y3;   \
	VMINPS       Y3, Y2, Y7;   \
	VMAXPS       Y3, Y2, Y2;   \
	VMAXPS       Y7, start, start; \
	VMINPS       Y2, end, end

#define FIRST(lo, hi) CUT(lo, hi, Y0, Y1)
#define SECOND(lo, hi) CUT(lo, hi, Y10, Y11)

// func slabs(n *wideNode, r *wideRay, limit float32, d *[width]float32) uint32
TEXT ·slabs(SB), NOSPLIT, $0-36
	MOVQ n+0(FP), AX
	MOVQ r+8(FP), BX
	MOVQ d+24(FP), CX

	// X8 is the origin from the base on, X9 one over the direction.
	TURNED(0, X8)
	FROMBASE(X8)
	TURNED(12, X9)
	VBROADCASTSS one<>(SB), X2
	VBROADCASTSS farthest<>(SB), X3
	VBROADCASTSS nearest<>(SB), X4
	VDIVPS       X9, X2, X9
	VMINPS       X3, X9, X9
	VMAXPS       X4, X9, X9

	VXORPS       Y0, Y0, Y0
	VBROADCASTSS limit+16(FP), Y1
	VXORPS       Y10, Y10, Y10
	VMOVAPS      Y1, Y11
	EACHAXIS(X8, X9)

	VMOVUPS      Y0, (CX)
	VMOVUPS      Y10, 32(CX)
	WITHIN(Y0, Y10, Y1, Y11)
	MOVL         AX, ret+32(FP)
	RET

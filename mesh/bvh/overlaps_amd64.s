#include "textflag.h"

// One axis: Y0 keeps the lanes whose interval has something in common with that of
// b. SI and DI point to the least and greatest coordinates, R8 to the next row.
#define AXIS(lo, hi) \
	VBROADCASTSS hi(BX), Y1;       \
	VBROADCASTSS lo(BX), Y2;       \
	VMOVUPS      (SI), Y3;         \
	VMOVUPS      (DI), Y4;         \
	VCMPPS       $2, Y1, Y3, Y3;   \
	VCMPPS       $13, Y2, Y4, Y4;  \
	VANDPS       Y3, Y0, Y0;       \
	VANDPS       Y4, Y0, Y0;       \
	ADDQ         R8, SI;           \
	ADDQ         R8, DI

// func overlaps(first *float32, row int, b *bounds) uint32
TEXT ·overlaps(SB), NOSPLIT, $0-28
	MOVQ    first+0(FP), SI
	MOVQ    row+8(FP), R8
	MOVQ    b+16(FP), BX
	SHLQ    $2, R8
	LEAQ    (R8)(R8*2), DI
	ADDQ    SI, DI
	VPCMPEQD Y0, Y0, Y0
	AXIS(0, 12)
	AXIS(4, 16)
	AXIS(8, 20)
	VMOVMSKPS Y0, AX
	VZEROUPPER
	MOVL    AX, ret+24(FP)
	RET

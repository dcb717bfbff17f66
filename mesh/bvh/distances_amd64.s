#include "textflag.h"

DATA ones<>+0(SB)/8, $1.0
DATA ones<>+8(SB)/8, $1.0
DATA ones<>+16(SB)/8, $1.0
DATA ones<>+24(SB)/8, $1.0
GLOBL ones<>(SB), RODATA|NOPTR, $32
DATA infinity<>+0(SB)/8, $0x7ff0000000000000
GLOBL infinity<>(SB), RODATA|NOPTR, $8
DATA flatShare<>+0(SB)/8, $1e-16
GLOBL flatShare<>(SB), RODATA|NOPTR, $8

// PLACES has R10 to R13 point to the corners of the four facets whose numbers are at at in
// each. BX points to the vertices.
#define PLACES(at) \
	MOVLQSX at(R8), R10;     \
	MOVLQSX at(R9), R11;     \
	MOVLQSX at(DI), R12;     \
	MOVLQSX at(SI), R13;     \
	LEAQ    (R10)(R10*2), R10; \
	LEAQ    (R11)(R11*2), R11; \
	LEAQ    (R12)(R12*2), R12; \
	LEAQ    (R13)(R13*2), R13; \
	LEAQ    (BX)(R10*8), R10;  \
	LEAQ    (BX)(R11*8), R11;  \
	LEAQ    (BX)(R12*8), R12;  \
	LEAQ    (BX)(R13*8), R13

// CORNER has x, y and z hold the coordinates of four corners.
#define CORNER(at, x, y, z) \
	PLACES(at);                           \
	VMOVUPD     (R10), X12;               \
	VINSERTF128 $1, (R12), Y12, Y12;      \
	VMOVUPD     (R11), X13;               \
	VINSERTF128 $1, (R13), Y13, Y13;      \
	VUNPCKLPD   Y13, Y12, x;              \
	VUNPCKHPD   Y13, Y12, y;              \
	VMOVSD      16(R10), X12;             \
	VMOVHPD     16(R11), X12, X12;        \
	VMOVSD      16(R12), X13;             \
	VMOVHPD     16(R13), X13, X13;        \
	VINSERTF128 $1, X13, Y12, z

// DOT is a.b.
#define DOT(ax, ay, az, bx, by, bz, tmp, out) \
	VMULPD ax, bx, out;   \
	VMULPD ay, by, tmp;   \
	VADDPD tmp, out, out; \
	VMULPD az, bz, tmp;   \
	VADDPD tmp, out, out

// DIFFERENCE is a b - c d.
#define DIFFERENCE(a, b, c, d, tmp, out) \
	VMULPD a, b, out;     \
	VMULPD c, d, tmp;     \
	VSUBPD tmp, out, out

// ALONG has s hold how far along the segment of squared length dd the point nearest to that of the
// product t is, from 0 to 1. Y15 is zero.
#define ALONG(t, dd, tmp, s) \
	VDIVPD    dd, t, s;             \
	VCMPPD    $13, dd, t, tmp;      \
	VBLENDVPD tmp, ones<>(SB), s, s; \
	VCMPPD    $14, Y15, t, tmp;     \
	VANDPD    tmp, s, s

// OFF2 is the square of p - s d.
#define OFF2(px, py, pz, dx, dy, dz, s, tmp, out) \
	VMULPD s, dx, out;    \
	VSUBPD out, px, out;  \
	VMULPD out, out, out; \
	VMULPD s, dy, tmp;    \
	VSUBPD tmp, py, tmp;  \
	VMULPD tmp, tmp, tmp; \
	VADDPD tmp, out, out; \
	VMULPD s, dz, tmp;    \
	VSUBPD tmp, pz, tmp;  \
	VMULPD tmp, tmp, tmp; \
	VADDPD tmp, out, out

// TRIPLE is n.(a x b), n in Y9 to Y11.
#define TRIPLE(ax, ay, az, bx, by, bz, t1, t2, out) \
	DIFFERENCE(ay, bz, az, by, t1, out); \
	VMULPD Y9, out, out;                 \
	DIFFERENCE(az, bx, ax, bz, t1, t2);  \
	VMULPD Y10, t2, t2;                  \
	VADDPD t2, out, out;                 \
	DIFFERENCE(ax, by, ay, bx, t1, t2);  \
	VMULPD Y11, t2, t2;                  \
	VADDPD t2, out, out

// FACET has out point to the corners of the facet at the place at(DX) of those at AX.
#define FACET(at, out) \
	MOVLQSX at(DX), out;       \
	LEAQ    (out)(out*2), out; \
	LEAQ    (AX)(out*4), out

// Every lane does what distance2 does, in the same order, but takes all ways and picks
// from what they lead to.
//
// func distances(tri *[3]int32, v *r3.Vector, at *[4]int32, p *r3.Vector, d *[4]float64)
TEXT ·distances(SB), NOSPLIT, $384-40
	MOVQ tri+0(FP), AX
	MOVQ v+8(FP), BX
	MOVQ at+16(FP), DX
	MOVQ p+24(FP), CX
	FACET(0, R8)
	FACET(4, R9)
	FACET(8, DI)
	FACET(12, SI)
	CORNER(0, Y0, Y1, Y2)
	CORNER(4, Y3, Y4, Y5)
	CORNER(8, Y6, Y7, Y8)
	VBROADCASTSD 0(CX), Y9
	VBROADCASTSD 8(CX), Y10
	VBROADCASTSD 16(CX), Y11
	VXORPD       Y15, Y15, Y15

	// From a to p, b and c, for later.
	VSUBPD  Y0, Y9, Y12
	VSUBPD  Y1, Y10, Y13
	VSUBPD  Y2, Y11, Y14
	VMOVUPD Y12, 0(SP)
	VMOVUPD Y13, 32(SP)
	VMOVUPD Y14, 64(SP)
	VSUBPD  Y0, Y3, Y12
	VSUBPD  Y1, Y4, Y13
	VSUBPD  Y2, Y5, Y14
	VMOVUPD Y12, 96(SP)
	VMOVUPD Y13, 128(SP)
	VMOVUPD Y14, 160(SP)
	VSUBPD  Y0, Y6, Y12
	VSUBPD  Y1, Y7, Y13
	VSUBPD  Y2, Y8, Y14
	VMOVUPD Y12, 192(SP)
	VMOVUPD Y13, 224(SP)
	VMOVUPD Y14, 256(SP)

	// The edge from b to c.
	VSUBPD  Y3, Y6, Y6
	VSUBPD  Y4, Y7, Y7
	VSUBPD  Y5, Y8, Y8
	VSUBPD  Y3, Y9, Y9
	VSUBPD  Y4, Y10, Y10
	VSUBPD  Y5, Y11, Y11
	DOT(Y6, Y7, Y8, Y6, Y7, Y8, Y12, Y0)
	DOT(Y9, Y10, Y11, Y6, Y7, Y8, Y12, Y1)
	ALONG(Y1, Y0, Y12, Y2)
	OFF2(Y9, Y10, Y11, Y6, Y7, Y8, Y2, Y12, Y13)
	VMOVUPD Y13, 288(SP)

	VMOVUPD 0(SP), Y0
	VMOVUPD 32(SP), Y1
	VMOVUPD 64(SP), Y2
	VMOVUPD 96(SP), Y3
	VMOVUPD 128(SP), Y4
	VMOVUPD 160(SP), Y5
	VMOVUPD 192(SP), Y6
	VMOVUPD 224(SP), Y7
	VMOVUPD 256(SP), Y8

	// The edges from a to b and to c.
	DOT(Y3, Y4, Y5, Y3, Y4, Y5, Y12, Y9)
	DOT(Y0, Y1, Y2, Y3, Y4, Y5, Y12, Y10)
	ALONG(Y10, Y9, Y12, Y11)
	OFF2(Y0, Y1, Y2, Y3, Y4, Y5, Y11, Y12, Y13)
	VMOVUPD Y13, 320(SP)
	DOT(Y6, Y7, Y8, Y6, Y7, Y8, Y12, Y14)
	DOT(Y0, Y1, Y2, Y6, Y7, Y8, Y12, Y10)
	ALONG(Y10, Y14, Y12, Y11)
	OFF2(Y0, Y1, Y2, Y6, Y7, Y8, Y11, Y12, Y13)
	VMOVUPD Y13, 352(SP)

	// Y14: below that the normal's square says nothing.
	VMULPD       Y14, Y9, Y14
	VBROADCASTSD flatShare<>(SB), Y12
	VMULPD       Y12, Y14, Y14

	// Y9 to Y11: the normal; Y12: its square; Y14: what has none.
	DIFFERENCE(Y4, Y8, Y5, Y7, Y13, Y9)
	DIFFERENCE(Y5, Y6, Y3, Y8, Y13, Y10)
	DIFFERENCE(Y3, Y7, Y4, Y6, Y13, Y11)
	DOT(Y9, Y10, Y11, Y9, Y10, Y11, Y13, Y12)
	VCMPPD $10, Y14, Y12, Y14

	// w in Y13, v in Y3, u in Y4: the weights; the distance from the plane in Y0.
	VMOVUPD Y14, 0(SP)
	TRIPLE(Y3, Y4, Y5, Y0, Y1, Y2, Y15, Y14, Y13)
	TRIPLE(Y0, Y1, Y2, Y6, Y7, Y8, Y15, Y14, Y3)
	DOT(Y9, Y10, Y11, Y0, Y1, Y2, Y15, Y14)
	VMULPD Y14, Y14, Y14
	VDIVPD Y12, Y14, Y0
	VSUBPD Y3, Y12, Y4
	VSUBPD Y13, Y4, Y4

	// Edges count that have the projection on their outer side, all where there is no normal.
	VXORPD       Y15, Y15, Y15
	VMOVUPD      0(SP), Y14
	VCMPPD       $1, Y15, Y13, Y13
	VCMPPD       $1, Y15, Y3, Y3
	VCMPPD       $1, Y15, Y4, Y4
	VORPD        Y14, Y13, Y13
	VORPD        Y14, Y3, Y3
	VORPD        Y14, Y4, Y4
	VBROADCASTSD infinity<>(SB), Y5
	VBLENDVPD    Y13, 320(SP), Y5, Y6
	VBLENDVPD    Y3, 352(SP), Y5, Y7
	VBLENDVPD    Y4, 288(SP), Y5, Y8
	VMINPD       Y6, Y7, Y6
	VMINPD       Y6, Y8, Y6
	VORPD        Y3, Y13, Y13
	VORPD        Y4, Y13, Y13
	VBLENDVPD    Y13, Y6, Y0, Y0

	MOVQ    d+32(FP), CX
	VMOVUPD Y0, (CX)
	VZEROUPPER
	RET

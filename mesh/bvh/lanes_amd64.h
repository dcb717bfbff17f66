// What all measures of wide nodes do alike. AX points to the node, BX to what is asked.

// TURNED has out hold the vector at at(BX) along the node's own axes; the fourth lane
// is the next field and means nothing.
#define TURNED(at, out) \
	VBROADCASTSS at(BX), out;      \
	VBROADCASTSS at+4(BX), X6;     \
	VBROADCASTSS at+8(BX), X7;     \
	VMULPS       48(AX), out, out; \
	VMULPS       60(AX), X6, X6;   \
	VMULPS       72(AX), X7, X7;   \
	VADDPS       X6, out, out;     \
	VADDPS       X7, out, out

// INTERVALS has Y2 and Y3 hold where the eight boxes begin and end along an axis, from the base on.
#define INTERVALS(lo, hi, step) \
	VPMOVZXBD    lo(AX), Y2;   \
	VPMOVZXBD    hi(AX), Y3;   \
	VBROADCASTSS step(AX), Y4; \
	VCVTDQ2PS    Y2, Y2;       \
	VCVTDQ2PS    Y3, Y3;       \
	VMULPS       Y4, Y2, Y2;   \
	VMULPS       Y4, Y3, Y3

// EACHAXIS has Y5 and Y6 hold what p and q are along each axis in turn, and does AXIS for it.
#define EACHAXIS(p, q) \
	VBROADCASTSS p, Y5;        \
	VBROADCASTSS q, Y6;        \
	AXIS(0, 24, 96);           \
	VPERMILPS    $0x55, p, X5; \
	VPERMILPS    $0x55, q, X6; \
	VBROADCASTSS X5, Y5;       \
	VBROADCASTSS X6, Y6;       \
	AXIS(8, 32, 100);          \
	VPERMILPS    $0xAA, p, X5; \
	VPERMILPS    $0xAA, q, X6; \
	VBROADCASTSS X5, Y5;       \
	VBROADCASTSS X6, Y6;       \
	AXIS(16, 40, 104)

// What all measures of wide nodes do alike. AX points to the node, BX to what is asked.

// TURNED has out hold the vector at at(BX) along the node's own axes; the fourth lane
// is the next field and means nothing.
#define TURNED(at, out) \
	VBROADCASTSS at(BX), out;      \
	VBROADCASTSS at+4(BX), X6;     \
	VBROADCASTSS at+8(BX), X7;     \
	VMULPS       96(AX), out, out; \
	VMULPS       108(AX), X6, X6;  \
	VMULPS       120(AX), X7, X7;  \
	VADDPS       X6, out, out;     \
	VADDPS       X7, out, out

// FROMBASE has v count from the base on.
#define FROMBASE(v) \
	VSUBPS 132(AX), v, v

// INTERVALS has Y2 and Y3 hold where eight boxes begin and end along an axis, from the base on;
// all lanes of Y4 hold the step.
#define INTERVALS(lo, hi) \
	VPMOVZXBD    lo(AX), Y2;   \
	VPMOVZXBD    hi(AX), Y3;   \
	VCVTDQ2PS    Y2, Y2;       \
	VCVTDQ2PS    Y3, Y3;       \
	VMULPS       Y4, Y2, Y2;   \
	VMULPS       Y4, Y3, Y3

// EACHAXIS has Y5 and Y6 hold what p and q are along each axis in turn, and Y4 the step,
// and does FIRST for the first eight boxes and SECOND for the others.
#define EACHAXIS(p, q) \
	VBROADCASTSS p, Y5;          \
	VBROADCASTSS q, Y6;          \
	VBROADCASTSS 144(AX), Y4;    \
	FIRST(0, 48);                \
	SECOND(8, 56);               \
	VPERMILPS    $0x55, p, X5;   \
	VPERMILPS    $0x55, q, X6;   \
	VBROADCASTSS X5, Y5;         \
	VBROADCASTSS X6, Y6;         \
	VBROADCASTSS 148(AX), Y4;    \
	FIRST(16, 64);               \
	SECOND(24, 72);              \
	VPERMILPS    $0xAA, p, X5;   \
	VPERMILPS    $0xAA, q, X6;   \
	VBROADCASTSS X5, Y5;         \
	VBROADCASTSS X6, Y6;         \
	VBROADCASTSS 152(AX), Y4;    \
	FIRST(32, 80);               \
	SECOND(40, 88)

// WITHIN leaves in AX a bit for each of the sixteen distances, eight in first and eight
// in second, that is not above its limit, in the same lane of limits and more.
#define WITHIN(first, second, limits, more) \
	VCMPPS    $2, limits, first, first;   \
	VCMPPS    $2, more, second, second; \
	VMOVMSKPS first, AX;                 \
	VMOVMSKPS second, BX;                \
	VZEROUPPER;                          \
	SHLL      $8, BX;                    \
	ORL       BX, AX

package scan

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

// same tells whether two numbers have the same bits, or are both no numbers.
func same32(a, b float32) bool {
	return math.Float32bits(a) == math.Float32bits(b) || a != a && b != b
}

// check compares with the standard library, which rounds correctly.
func check(t *testing.T, w string) {
	t.Helper()
	want, _ := strconv.ParseFloat(w, 32)
	if got, ok := Float32([]byte(w)); !ok || !same32(got, float32(want)) {
		t.Errorf("Float32(%q) = %v %v, want %v", w, got, ok, float32(want))
	}
	want, _ = strconv.ParseFloat(w, 64)
	if got, ok := Float64([]byte(w)); !ok || got != want || math.Signbit(got) != math.Signbit(want) {
		t.Errorf("Float64(%q) = %v %v, want %v", w, got, ok, want)
	}
}

func TestFloatKnownNumbers(t *testing.T) {
	for _, w := range []string{
		"0", "-0", "+0", "00012", "1.", ".5", "-.5e1", "+1.25E+02", "1e-3", "-1.570796e+00", "0.955654E-01",
		"16777217", "16777219", // halfway between two single-precision numbers: to even
		"16777217.0000000000000000000000001", // just above: the 33rd digit decides
		"1.00000005960464477539062500", "1.00000005960464477539062501", "1.00000005960464477539062499",
		"3.4028235e38", "3.4028236e38", "3.4028235677973366e38", "1e39", "-1e400", "1e99999999999",
		"1.17549435e-38", "1.4e-45", "7e-46", "7.1e-46", "1e-60", "1e-400", "-1e-99999999999",
		"12345678901234567890123456789", "0.00000000000000000000000000000000000001234567890123456789",
		"32.692842680107674", "9007199254740993", "18446744073709551616",
	} {
		check(t, w)
	}
}

func TestFloatRandomNumbers(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 100000 {
		f := math.Float32frombits(r.Uint32())
		if f-f != 0 {
			continue
		}
		// The shortest form, a longer one, and the exact midpoint to the next number.
		check(t, strconv.FormatFloat(float64(f), 'g', -1, 32))
		check(t, strconv.FormatFloat(float64(f), 'e', 6+r.IntN(15), 32))
		next := math.Nextafter32(f, 0)
		check(t, strconv.FormatFloat((float64(f)+float64(next))/2, 'g', -1, 64))
		check(t, strconv.FormatFloat(r.NormFloat64()*200, 'f', r.IntN(18), 64))
	}
}

func TestFloatRefusesWhatIsNoNumber(t *testing.T) {
	for _, w := range []string{
		"", "-", "+", ".", "-.", "e5", "1e", "1e+", "1,5", "1.5.2", "0x10", "1_000", "--1", "1e5.5", "12mm", "in", "n", "1.#", "\xff", "١",
	} {
		if v, ok := Float32([]byte(w)); ok {
			t.Errorf("Float32(%q) = %v, want no number", w, v)
		}
		if v, ok := Float64([]byte(w)); ok {
			t.Errorf("Float64(%q) = %v, want no number", w, v)
		}
	}
}

func TestFloatNotFinite(t *testing.T) {
	inf := float32(math.Inf(1))
	for w, want := range map[string]float32{
		"nan": nan(), "-NaN": nan(), "nan(ind)": nan(), "-1.#IND": nan(), "1.#QNAN": nan(), "-1.#IND00": nan(),
		"inf": inf, "-Inf": -inf, "INFINITY": inf, "1.#INF": inf, "-1.#INF": -inf,
	} {
		if got, ok := Float32([]byte(w)); !ok || !same32(got, want) {
			t.Errorf("Float32(%q) = %v %v, want %v", w, got, ok, want)
		}
	}
}

func nan() float32 { return float32(math.NaN()) }

func TestInt(t *testing.T) {
	for w, want := range map[string]int64{"0": 0, "-17": -17, "+8": 8, "123456789012345678": 123456789012345678} {
		if got, ok := Int([]byte(w)); !ok || got != want {
			t.Errorf("Int(%q) = %d %v, want %d", w, got, ok, want)
		}
	}
	for _, w := range []string{"", "-", "1.0", "1e3", "1234567890123456789", "12a"} {
		if got, ok := Int([]byte(w)); ok {
			t.Errorf("Int(%q) = %d, want none", w, got)
		}
	}
}

func FuzzFloat(f *testing.F) {
	for _, w := range []string{"1", "-1.5e-7", ".5", "1e400", "nan", "1.#INF", "0x1p3", "1_0", "16777217.00000001"} {
		f.Add(w)
	}
	f.Fuzz(func(t *testing.T, w string) {
		got, ok := Float32([]byte(w))
		if !ok || got-got != 0 {
			return
		}
		want, err := strconv.ParseFloat(w, 32)
		if err != nil || !same32(got, float32(want)) {
			t.Errorf("Float32(%q) = %v, want %v %v", w, got, want, err)
		}
	})
}

func BenchmarkFloat32(b *testing.B) {
	for _, w := range []string{"12.5", "-6.758800E+01", "32.692842680107674", "16777217"} {
		b.Run(w, func(b *testing.B) {
			b.ReportAllocs()
			in := []byte(w)
			for b.Loop() {
				Float32(in)
			}
		})
	}
}

// What begins a text is the number that Float32 reads there, up to a space.
func TestFloat32Ahead(t *testing.T) {
	for text, want := range map[string]float32{"1.5 2": 1.5, "-2e3\n": -2000, ".25\t": 0.25} {
		if v, n := Float32Ahead([]byte(text)); v != want || n != len(text)-1 && text[n] != ' ' {
			t.Errorf("Float32Ahead(%q) = %v, %d bytes, want %v", text, v, n, want)
		}
	}
	for _, text := range []string{"", "1", "1.5", "1e ", "1x ", "nan ", "- ", " 1 ", "1e5e "} {
		if v, n := Float32Ahead([]byte(text)); n != 0 {
			t.Errorf("Float32Ahead(%q) = %v, %d bytes, want none", text, v, n)
		}
	}
}

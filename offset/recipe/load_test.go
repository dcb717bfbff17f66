package recipe_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/require"

	"skinstock/offset/recipe"
)

// schemaSays validates YAML text against the generated schema.
func schemaSays(t *testing.T, text []byte) error {
	t.Helper()
	s, err := recipe.Schema()
	require.NoError(t, err)
	rs, err := s.Resolve(nil)
	require.NoError(t, err)
	var doc any
	require.NoError(t, yaml.Unmarshal(text, &doc))
	j, err := json.Marshal(doc)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(j, &doc))
	return rs.Validate(doc)
}

func TestBuiltInRecipes(t *testing.T) {
	require.Equal(t, recipe.Default, recipe.List()[0])
	for _, name := range recipe.List() {
		t.Run(name, func(t *testing.T) {
			r, err := recipe.Load(name)
			require.NoError(t, err)
			require.Equal(t, name, r.Name)
			require.NoError(t, schemaSays(t, r.Bytes))
			require.NoError(t, r.Validate())
			sum := sha256.Sum256(r.Bytes)
			require.Equal(t, hex.EncodeToString(sum[:]), r.SHA256)

			// Nothing built in has been measured by anyone here.
			for _, v := range r.Values() {
				require.NotEqual(t, recipe.Measured, v.Source, v.Path)
			}
			require.NotEmpty(t, r.AssumedValues())
		})
	}
}

// The recipe that is written reads back with the same values.
func TestMarshalRoundTrip(t *testing.T) {
	for _, name := range recipe.List() {
		r, err := recipe.Load(name)
		require.NoError(t, err)
		out, err := r.Marshal()
		require.NoError(t, err)
		again, err := recipe.Parse(name, out)
		require.NoError(t, err)
		require.Len(t, again.Values(), len(r.Values()))
		for i, v := range r.Values() {
			w := again.Values()[i]
			require.Equal(t, v.Path, w.Path)
			require.Equal(t, v.Quantity, w.Quantity)
		}
		twice, err := again.Marshal()
		require.NoError(t, err)
		require.Equal(t, string(out), string(twice))
		require.NotContains(t, string(out), recipe.DefaultNote)
	}
}

// The schema is the same each time and has a bound for every number.
func TestSchema(t *testing.T) {
	write := func() string {
		s, err := recipe.Schema()
		require.NoError(t, err)
		j, err := json.MarshalIndent(s, "", "  ")
		require.NoError(t, err)
		return string(j)
	}
	text := write()
	require.Equal(t, text, write())
	require.NotContains(t, text, `"null"`)
	r, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	for _, v := range r.Values() {
		lo, hi, _, _ := r.Bounds(v.Path)
		require.Less(t, lo, hi, v.Path)
		require.NotEmpty(t, v.Doc, v.Path)
	}
}

func TestUnknownName(t *testing.T) {
	_, err := recipe.Load("ti-6al-4v-3")
	require.ErrorIs(t, err, recipe.ErrUnknown)
	require.ErrorContains(t, err, "did you mean ti-6al-4v-30?")
}

func TestDefaultsCountAsAssumed(t *testing.T) {
	r, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	require.Equal(t, 60.0, r.Geometry.VerticalFromDeg.Value)
	require.Equal(t, recipe.Assumed, r.Geometry.VerticalFromDeg.Source)
	require.Equal(t, recipe.DefaultNote, r.Geometry.VerticalFromDeg.Note)
	require.Equal(t, recipe.DatumPeaks, r.Print.SizeDatum)
	var seen bool
	for _, v := range r.AssumedValues() {
		seen = seen || v.Path == "geometry.vertical_from_deg"
	}
	require.True(t, seen)
}

func TestBareNumberLongFormAndOrder(t *testing.T) {
	r, err := recipe.Parse("x", edit(t, "layer_um: 30", `layer_um: {value: 31, source: measured, by: micrometer, uncertainty: 2, note: "lot 7"}`))
	require.NoError(t, err)
	require.Equal(t, recipe.Quantity{Value: 31, Source: recipe.Measured, By: "micrometer", Uncertainty: 2, Note: "lot 7"}, r.Print.LayerUM)
	require.Equal(t, 0.0, r.Finish.ExtraUM.Value)
	require.Equal(t, recipe.Assumed, r.Finish.ExtraUM.Source)
}

func TestWithChangesOneValueOfACopy(t *testing.T) {
	r, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	c, ok := r.With("roughness.classes.downskin.ra_um", 33)
	require.True(t, ok)
	require.Equal(t, 33.0, c.Roughness.Classes.Downskin.RaUM.Value)
	require.Equal(t, 28.0, r.Roughness.Classes.Downskin.RaUM.Value)
	require.Empty(t, c.SHA256, "no file says what the copy says")
	require.NotEmpty(t, r.SHA256)
	c, ok = r.With("material.elements[1].valence", 2)
	require.True(t, ok)
	require.Equal(t, 2.0, c.Material.Elements[1].Valence.Value)
	require.Equal(t, 3.0, r.Material.Elements[1].Valence.Value)
	_, ok = r.With("finish.no_such", 1)
	require.False(t, ok)
}

// Equivalent weights and rates of references.md 5; tolerance 1e-6 relative as stated there.
func TestEquivalentWeight(t *testing.T) {
	for _, c := range []struct{ ti, al, v, e, rate float64 }{
		{4, 3, 5, 11.654239, 16.359504},
		{4, 3, 4, 11.761873, 16.510594},
		{4, 3, 3, 11.871513, 16.664500},
		{3, 3, 3, 15.282770, 21.453014},
	} {
		a := recipe.AssumedValue
		m := recipe.Material{DensityGPerCM3: a(4.43), Elements: []recipe.Element{
			{Symbol: "Ti", MassFraction: a(0.9), Valence: a(c.ti)},
			{Symbol: "Al", MassFraction: a(0.06), Valence: a(c.al)},
			{Symbol: "V", MassFraction: a(0.04), Valence: a(c.v)},
		}}
		e, ok := m.EquivalentGPerMol()
		require.True(t, ok)
		require.InEpsilon(t, c.e, e, 1e-6)
		rate, ok := m.FullRateUMPerMin(1)
		require.True(t, ok)
		require.InEpsilon(t, c.rate, rate, 1e-6)
	}
	// Pure metals, the first table of references.md 5.
	for _, c := range []struct {
		symbol         string
		z, rho, um, mg float64
	}{
		{"Ti", 4, 4.506, 16.514863, 0.1240266},
		{"Ti", 3, 4.506, 22.019818, 0.1653688},
		{"Fe", 2, 7.874, 22.052044, 0.2893963},
		{"Fe", 3, 7.874, 14.701362, 0.1929309},
		{"Ni", 2, 8.908, 20.486559, 0.3041571},
		{"Cu", 2, 8.96, 22.051603, 0.3293039},
		{"Cu", 1, 8.96, 44.103206, 0.6586079},
		{"Al", 3, 2.699, 20.722041, 0.0932146},
	} {
		a := recipe.AssumedValue
		m := recipe.Material{DensityGPerCM3: a(c.rho), Elements: []recipe.Element{{Symbol: c.symbol, MassFraction: a(1), Valence: a(c.z)}}}
		rate, _ := m.FullRateUMPerMin(1)
		require.InEpsilon(t, c.um, rate, 1e-6, c.symbol)
		e, _ := m.EquivalentGPerMol()
		require.InEpsilon(t, c.mg, 1000*e/recipe.FaradayCPerMol, 1e-6, c.symbol)
	}
}

func TestReadStopsAtTheLimit(t *testing.T) {
	_, err := recipe.Read("endless", endless{})
	var bad *recipe.Error
	require.ErrorAs(t, err, &bad)
	require.ErrorIs(t, err, recipe.ErrInvalid)
	require.ErrorContains(t, err, "more than 256 KiB")

	boom := errors.New("boom")
	_, err = recipe.Read("broken", iotestErr{boom})
	require.ErrorIs(t, err, boom)
}

type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '#'
	}
	return len(p), nil
}

type iotestErr struct{ err error }

func (e iotestErr) Read([]byte) (int, error) { return 0, e.err }

func TestByteOrderMarkAndCarriageReturns(t *testing.T) {
	base, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	text := append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(base.Bytes, []byte("\n"), []byte("\r\n"))...)
	r, err := recipe.Parse("windows", text)
	require.NoError(t, err)
	require.Equal(t, base.Line("finish.target_ra_um"), r.Line("finish.target_ra_um"))
	require.Positive(t, r.Line("finish.target_ra_um"))
}

// edit returns the default recipe with one text replaced once.
func edit(t *testing.T, old, by string) []byte {
	t.Helper()
	r, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	require.Equal(t, 1, strings.Count(string(r.Bytes), old), "%q is not there once", old)
	return []byte(strings.Replace(string(r.Bytes), old, by, 1))
}

func lineOf(t *testing.T, text []byte, what string) int {
	t.Helper()
	i := bytes.Index(text, []byte(what))
	require.GreaterOrEqual(t, i, 0, what)
	return 1 + bytes.Count(text[:i], []byte("\n"))
}

// Damaged recipes end in problems, never in a panic, a hang or an error of another kind.
func TestDamagedRecipes(t *testing.T) {
	base, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(1, 2))
	const signs = "[]{}:-?,\n\t #|>&*!'\"\x00\xff%@`"
	var bad int
	for range 400 {
		b := bytes.Clone(base.Bytes)
		for range 1 + rng.IntN(4) {
			i := rng.IntN(len(b))
			switch rng.IntN(3) {
			case 0:
				b[i] = signs[rng.IntN(len(signs))]
			case 1:
				b = append(b[:i], b[min(len(b), i+rng.IntN(40)):]...)
			case 2:
				j := min(len(b), i+rng.IntN(200))
				b = append(b[:j:j], b[i:]...)
			}
		}
		_, err := recipe.Parse("damaged", b)
		var e *recipe.Error
		if err != nil {
			require.ErrorAs(t, err, &e)
			bad++
		}
	}
	require.Greater(t, bad, 200)
}

func TestProblemsAreCounted(t *testing.T) {
	_, err := recipe.Parse("list.yaml", []byte(strings.Repeat("x: 1\ny: 2\n", 1)+manyKeys(500)))
	var e *recipe.Error
	require.ErrorAs(t, err, &e)
	require.Len(t, e.Problems, 21)
	require.ErrorContains(t, err, "and 482 problems more")
}

func manyKeys(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "k%d: 1\n", i)
	}
	return b.String()
}

func FuzzParse(f *testing.F) {
	for _, name := range recipe.List() {
		r, err := recipe.Load(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(r.Bytes)
	}
	f.Add([]byte("a: &a [*a]"))
	f.Add([]byte("[[[["))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := recipe.Parse("fuzz", data)
		if err != nil {
			var bad *recipe.Error
			if !errors.As(err, &bad) || len(bad.Problems) == 0 {
				t.Fatalf("error without problems: %v", err)
			}
			for _, p := range bad.Problems {
				if strings.Contains(p.String(), "\n") || p.Remedy == "" {
					t.Fatalf("problem %q is not one line with a remedy", p.String())
				}
			}
			return
		}
		out, err := r.Marshal()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := recipe.Parse("again", out); err != nil {
			t.Fatalf("what was written does not read: %v\n%s", err, out)
		}
	})
}

package recipe_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/recipe"
)

const downRa = "ra_um: {value: 28, source: assumed, uncertainty: 10, note: range 20 to 40 at 30 deg}"

const stages = "\n  stages:\n    - {name: rough, rate_um_per_min: 3}\n    - {name: fine, rate_um_per_min: 1, depth_um: 10}\n"

// Every impossible recipe gives one clear line with line number, cause and
// remedy; where a schema can tell, ours agrees.
func TestBadRecipes(t *testing.T) {
	for _, c := range []struct {
		name     string
		old, new string // edit of the default recipe
		at       string // text on the line the problem must name; "" for the file as a whole
		says     string // part of the message
		schema   bool   // the schema alone tells
	}{
		{"negative", "layer_um: 30", "layer_um: -30", "layer_um: -30", "-30 um cannot be", true},
		{"zero", "layer_um: 30", "layer_um: 0", "layer_um: 0", "0 um cannot be; layer thickness: at least 5", true},
		{"zero target", "value: 1.6, source: assumed", "value: 0, source: assumed", "target_ra_um:", "more than 0", true},
		{"absurdly large", "layer_um: 30", "layer_um: 3e9", "layer_um:", "at most 500 um", true},
		{"not a number", "layer_um: 30", "layer_um: .nan", "layer_um:", "NaN um cannot be", false},
		{"infinite", "layer_um: 30", "layer_um: .inf", "layer_um:", "cannot be", false},
		{"target below floor", "value: 0.5, source: assumed, uncertainty: 0.3", "value: 1.8, source: assumed", "target_ra_um:", "target Ra 1.6 um is not above the floor of 1.8 um", false},
		{"target at the floor", "value: 0.5, source: assumed, uncertainty: 0.3", "value: 1.6, source: assumed", "target_ra_um:", "not above the floor", false},
		{"unknown key", "layer_um: 30", "layer_um: 30\n  layr_mm: 3", "layr_mm", "print.layr_mm: unknown key; did you mean layer_um?", true},
		{"unknown key at the top", "\nprint:", "\nprinter: x\nprint:", "printer", "unknown key", true},
		{"unknown key in the long form", "value: 4.43,", "value: 4.43, sorce: assumed,", "density", "did you mean source?", true},
		{"text for a number", "layer_um: 30", "layer_um: thirty", "layer_um:", `"thirty" is not a number`, true},
		{"quoted number", "layer_um: 30", `layer_um: "30"`, "layer_um:", "is not a number", true},
		{"unit beside the number", "layer_um: 30", "layer_um: 30um", "layer_um:", "the unit stands in the key", true},
		{"decimal comma", "layer_um: 30", "layer_um: 30,5", "layer_um:", "is not a number", true},
		{"list for a number", "layer_um: 30", "layer_um: [30]", "layer_um:", "a list is not a number", true},
		{"number for a list", "envelope_mm: [400, 300, 300]", "envelope_mm: 400", "envelope_mm:", "where a list is wanted", true},
		{"two sides of three", "envelope_mm: [400, 300, 300]", "envelope_mm: [400, 300]", "envelope_mm:", "2 numbers where 3 are wanted", false},
		{"side of nothing", "envelope_mm: [400, 300, 300]", "envelope_mm: [400, 0, 300]", "envelope_mm:", "0 mm cannot be", false},
		{"build space of two sides", "layer_um: 30", "layer_um: 30\n  envelope_mm: [250, 250]", "envelope_mm:", "2 numbers where 3 are wanted", false},
		{"vessel without a size", "envelope_mm: [400, 300, 300]", "far_field: vessel", "far_field:", "a vessel without a size", false},
		{"two sides of a vessel", "envelope_mm: [400, 300, 300]", "vessel_mm: [400, 300]", "vessel_mm:", "2 numbers where 3 are wanted", false},
		{"vessel of nothing", "envelope_mm: [400, 300, 300]", "vessel_mm: [400, 0, 300]", "vessel_mm:", "0 mm cannot be", false},
		{"unknown far field", "envelope_mm: [400, 300, 300]", "far_field: ocean", "far_field:", "write infinity or vessel", true},
		{"plate without a size", "envelope_mm: [400, 300, 300]", "cathodes: [{at_mm: [0, 0, 90]}]", "cathodes:", "size_mm", true},
		{"flat plate", "envelope_mm: [400, 300, 300]", "cathodes: [{at_mm: [0, 0, 90], size_mm: [100, 100, 0]}]", "cathodes:", "0 mm cannot be", false},
		{"plate in the wall", "envelope_mm: [400, 300, 300]", "far_field: vessel\n  vessel_mm: [400, 300, 300]\n  cathodes: [{at_mm: [0, 0, 149], size_mm: [100, 100, 2]}]", "cathodes:", "reaches the wall of the vessel along z", false},
		{"clearance eats the bath", "clearance_mm: {value: 40", "clearance_mm: {value: 150", "clearance_mm:", "leave nothing", false},
		{"text for a group", "value: 1.6, source: assumed, note: grade N7; set what your drawing says", "note: fine", "target_ra_um:", "value is missing", true},
		{"nothing after the colon", "layer_um: 30", "layer_um:", "layer_um:", "nothing after the colon", true},
		{"required value missing", "layer_um: 30", "# no layer", "print:", "print.layer_um: the value is missing", true},
		{"unknown word", "size_datum: peaks", "size_datum: valleys", "size_datum:", `"valleys" is not known; write peaks or mean`, true},
		{"unknown source", "accuracy_um: {value: 100, source: assumed", "accuracy_um: {value: 100, source: guessed", "accuracy_um:", "write measured, published or assumed", true},
		{"published nowhere", "source: published, by: ASM data sheet MTP641}", "source: published}", "density", "nothing says where", false},
		{"uncertainty negative", "uncertainty: 15", "uncertainty: -15", "depth_um:", "uncertainty -15 cannot be", true},
		{"uncertainty above the value", "uncertainty: 15", "uncertainty: 55", "depth_um:", "more than the value 40", false},
		{"efficiency over 100 %", "  voltage_v:", "  efficiency: 1.2\n  voltage_v:", "efficiency: 1.2", "1.2 cannot be", true},
		{"rate beyond the charge", "rate_um_per_min: {value: 2,", "rate_um_per_min: {value: 6,", "rate_um_per_min:", "needs a current efficiency of 147 %, more than 100 %", false},
		{"no rate at all", "rate_um_per_min: {value: 2,", "loaded_g_per_l: {value: 2,", "bath:", "nothing says how fast the bath removes", false},
		{"mass fractions in per cent", "mass_fraction: 0.06", "mass_fraction: 6", "symbol: Al", "6 cannot be", true},
		{"mass fractions do not add up", "mass_fraction: 0.06", "mass_fraction: 0.6", "elements:", "add up to 1.54", false},
		{"element unknown", "symbol: V,", "symbol: Vn,", "symbol: Vn", "is not known", false},
		{"element twice", "symbol: V,", "symbol: Al,", "symbol: Al, mass_fraction: 0.04", "given twice", false},
		{"Rz below twice Ra", downRa, "ra_um: 28\n      rz_um: 50", "rz_um: 50", "Rz 50 um with Ra 28 um cannot be", false},
		{"heights do not add up", downRa, "ra_um: 28\n      rz_um: 140\n      rp_um: 90\n      rv_um: 80", "rz_um: 140", "is not Rz 140 um", false},
		{"peaks above the whole height", downRa, "ra_um: 28\n      rz_um: 140\n      rp_um: 150", "rp_um: 150", "not below Rz", false},
		{"class missing", "    downskin:", "    platform:", "classes:", "classes.downskin: the row is missing", false},
		{"levelling depth missing", "depth_um: {value: 40", "gap_um: {value: 40", "levelling:", "the levelling depth is missing", false},
		{"spent bath", "  life_g_per_l:", "  loaded_g_per_l: 25\n  life_g_per_l:", "loaded_g_per_l", "the bath is spent at 20 g/l", false},
		{"two open stages", "\n  volume_l:", strings.Replace(stages, ", depth_um: 10", "", 1) + "  volume_l:", "stages:", "2 stages without depth_um", false},
		{"stage beyond the charge", "\n  volume_l:", strings.Replace(stages, "rate_um_per_min: 3", "rate_um_per_min: 5", 1) + "  volume_l:", "name: rough", "more than 100 %", false},
		{"limits inverted", "\nbath:", "\nscreen:\n  shielded_warn: 0.1\n  shielded_fail: 0.4\n\nbath:", "shielded_fail", "not below the warning limit", false},
		{"overhangs called vertical", "\nbath:", "\ngeometry:\n  vertical_from_deg: 20\n\nbath:", "vertical_from_deg", "would call overhangs vertical", false},
		{"future version", "version: 1", "version: 2", "version: 2", "version 2 is not known", true},
		{"fractional version", "version: 1", "version: 1.5", "version: 1.5", "write a whole number", true},
		{"name with spaces", "name: ti-6al-4v-30", "name: My Recipe", "name: My Recipe", "is not a recipe name", true},
		{"number for a name", "name: ti-6al-4v-30", "name: 718", "name: 718", "put it in quotes", true},
		{"key twice", "layer_um: 30", "layer_um: 30\n  layer_um: 40", "layer_um: 40", "twice", false},
		{"tabs for indent", "  layer_um: 30", "\tlayer_um: 30", "layer_um", "", false},
		{"bracket left open", "envelope_mm: [400, 300, 300]", "envelope_mm: [400, 300, 300", "clearance_mm", "", false},
		{"anchor", "layer_um: 30", "layer_um: &t 30", "layer_um", "are not read; write the values out", false},
		{"type tag", "layer_um: 30", "layer_um: !!str 30", "layer_um", "type tags (!) are not read", false},
		{"binary", "layer_um: 30", "layer_um: \x00", "layer_um", "binary, not text", false},
		{"endless line", "layer_um: 30", "layer_um: 30 # " + strings.Repeat("x", 5000), "layer_um", "characters; keep lines under", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := edit(t, c.old, c.new)
			_, err := recipe.Parse("shop.yaml", text)
			var bad *recipe.Error
			require.ErrorAs(t, err, &bad)
			p := bad.Problems[0]
			require.Len(t, bad.Problems, 1, "%v", err)
			require.Contains(t, err.Error(), c.says)
			require.Equal(t, lineOf(t, text, c.at), p.Line, "%v", err)
			require.NotEmpty(t, p.Remedy)
			require.NotContains(t, err.Error(), "\n")
			require.True(t, strings.HasPrefix(err.Error(), "shop.yaml: line "), err.Error())
			if c.schema {
				require.Error(t, schemaSays(t, text), "the schema lets it pass")
			}
		})
	}
}

// Several problems come back together, in file order.
func TestAllProblemsAtOnce(t *testing.T) {
	text := strings.NewReplacer("layer_um: 30", "layer_um: -1", "law: empirical", "law: wishful", "value: 2, source: assumed, uncertainty: 0.6", "value: 0, source: assumed").
		Replace(string(edit(t, "volume_l:", "volume_l:")))
	_, err := recipe.Parse("shop.yaml", []byte(text))
	var bad *recipe.Error
	require.ErrorAs(t, err, &bad)
	require.Len(t, bad.Problems, 3)
	require.Equal(t, "print.layer_um", bad.Problems[0].Path)
	require.Equal(t, "finish.levelling.law", bad.Problems[1].Path)
	require.Equal(t, "bath.rate_um_per_min", bad.Problems[2].Path)
	require.Equal(t, 2, strings.Count(err.Error(), "\n"))
}

func TestEmptyFiles(t *testing.T) {
	for _, text := range []string{"", "\n\n", "# nothing but a comment\n", "---\n"} {
		_, err := recipe.Parse("empty.yaml", []byte(text))
		var bad *recipe.Error
		require.ErrorAs(t, err, &bad, "%q", text)
		require.NotEmpty(t, bad.Problems[0].Remedy)
	}
	_, err := recipe.Parse("empty.yaml", nil)
	require.EqualError(t, err, "empty.yaml: the file is empty; start from a built-in recipe: skinstock recipe show ti-6al-4v-30")
}

// A file that names itself over and over would grow to 10^9 values if the names were followed.
func TestAliasBomb(t *testing.T) {
	text := "a: &a [x, x, x, x, x, x, x, x, x, x]\n"
	for i := byte('b'); i <= 'j'; i++ {
		text += string(i) + ": &" + string(i) + " [" + strings.Repeat("*"+string(i-1)+", ", 9) + "*" + string(i-1) + "]\n"
	}
	_, err := recipe.Parse("bomb.yaml", []byte(text))
	require.EqualError(t, err, "bomb.yaml: line 1: anchors, aliases and merge keys (& * <<) are not read; write the values out")
}

func TestDeepNesting(t *testing.T) {
	for _, text := range []string{
		strings.Repeat("[", 1900),
		strings.Repeat("[\n", 100000),
		strings.Repeat("{a: ", 480),
		strings.Repeat("- ", 990) + "x",
		strings.Repeat("? ", 990) + "x",
	} {
		_, err := recipe.Parse("deep.yaml", []byte(text))
		require.ErrorIs(t, err, recipe.ErrInvalid)
		require.NotContains(t, err.Error(), "\n")
	}
}

func TestWavelengthMissing(t *testing.T) {
	text := string(edit(t, "law: empirical", "law: sinusoid"))
	_, err := recipe.Parse("shop.yaml", []byte(text))
	require.NoError(t, err, "every row has a wavelength")
	text = strings.Replace(text, "wavelength_um: {value: 50, source: assumed, note: stuck powder}", "", 1)
	_, err = recipe.Parse("shop.yaml", []byte(text))
	require.ErrorContains(t, err, "finish.levelling: the wavelength is missing; give wavelength_um here or in every row")
}

func TestTables(t *testing.T) {
	const head = "model: table\n  table:\n"
	row := func(deg, ra string) string { return "      - {deg: " + deg + ", ra_um: " + ra + "}\n" }
	for _, c := range []struct{ name, table, says string }{
		{"good", "    up:\n" + row("0", "8") + row("90", "9") + "    down:\n" + row("30", "28") + row("90", "9"), ""},
		{"one row", "    up:\n" + row("0", "8") + "    down:\n" + row("30", "28") + row("90", "9"), "1 rows are too few to read between"},
		{"no down", "    up:\n" + row("0", "8") + row("90", "9"), "table.down: 0 rows"},
		{"inverted", "    up:\n" + row("90", "9") + row("0", "8") + "    down:\n" + row("30", "28") + row("90", "9"), "table.up[1].deg: 0 deg follows 90 deg"},
		{"same angle twice", "    up:\n" + row("0", "8") + row("0", "9") + "    down:\n" + row("30", "28") + row("90", "9"), "0 deg follows 0 deg"},
		{"two walls", "    up:\n" + row("0", "8") + row("90", "9") + "    down:\n" + row("30", "28") + row("90", "10"), "a wall has one roughness"},
		{"beyond a wall", "    up:\n" + row("0", "8") + row("135", "9") + "    down:\n" + row("30", "28") + row("90", "10"), "table.up[1].deg: 135 deg cannot be"},
	} {
		_, err := recipe.Parse("shop.yaml", edit(t, "model: classes\n", head+c.table))
		if c.says == "" {
			require.NoError(t, err, c.name)
			continue
		}
		require.ErrorContains(t, err, c.says, c.name)
	}
}

func TestSecondDocument(t *testing.T) {
	text := edit(t, "layer_um: 30", "layer_um: 30")
	_, err := recipe.Parse("two.yaml", append(text, []byte("---\nversion: 1\n")...))
	require.ErrorContains(t, err, "a second document starts here; keep one recipe a file")
}

func TestUnsupportedSteeperThanSupported(t *testing.T) {
	_, err := recipe.Parse("shop.yaml", edit(t, "\nbath:", "\nscreen:\n  self_supporting_deg: 20\n\nbath:"))
	require.ErrorContains(t, err, "screen.unsupported_limit_deg: 30 deg is steeper than the 20 deg")
}

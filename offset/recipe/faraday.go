package recipe

import "slices"

// FaradayCPerMol is the charge of a mole of electrons: the exact product of
// the elementary charge 1.602176634e-19 C and Avogadro's number 6.02214076e23
// (references.md 5).
const FaradayCPerMol = 1.602176634e-19 * 6.02214076e23

// atomicWeights are in g/mol, IUPAC figures as in references.md 5 where it
// lists the element, and from memory (IUPAC abridged) where it does not.
var atomicWeights = [...]struct {
	symbol string
	weight float64
}{
	{"Ag", 107.8682},
	{"Al", 26.9815385},
	{"C", 12.011},
	{"Co", 58.933194},
	{"Cr", 51.9961},
	{"Cu", 63.546},
	{"Fe", 55.845},
	{"Mg", 24.305},
	{"Mn", 54.938044},
	{"Mo", 95.95},
	{"N", 14.007},
	{"Nb", 92.90637},
	{"Ni", 58.6934},
	{"Si", 28.085},
	{"Sn", 118.710},
	{"Ta", 180.94788},
	{"Ti", 47.867},
	{"V", 50.9415},
	{"W", 183.84},
	{"Zn", 65.38},
	{"Zr", 91.224},
}

// AtomicWeight returns the atomic weight of an element in g/mol.
func AtomicWeight(symbol string) (gPerMol float64, ok bool) {
	for _, e := range atomicWeights {
		if e.symbol == symbol {
			return e.weight, true
		}
	}
	return 0, false
}

func elementSymbols() []string {
	out := make([]string, len(atomicWeights))
	for i, e := range atomicWeights {
		out[i] = e.symbol
	}
	slices.Sort(out)
	return out
}

// EquivalentGPerMol returns the mass that a mole of electrons dissolves,
// E = sum w / sum(w z / M) over the elements (references.md 5); mass fractions
// that do not quite add up to 1 are scaled. ok is false without elements.
func (m Material) EquivalentGPerMol() (e float64, ok bool) {
	var mass, charge float64
	for _, c := range m.Elements {
		w, known := AtomicWeight(c.Symbol)
		if !known {
			return 0, false
		}
		mass += c.MassFraction.Value
		charge += c.MassFraction.Value * c.Valence.Value / w
	}
	if !(mass > 0 && charge > 0) {
		return 0, false
	}
	return mass / charge, true
}

// FullRateUMPerMin returns the depth rate in um/min when all of a current
// density in A/cm2 dissolves metal: 6e5 j E/(F rho) (references.md 5).
func (m Material) FullRateUMPerMin(currentAPerCM2 float64) (rate float64, ok bool) {
	e, ok := m.EquivalentGPerMol()
	if !ok || !(m.DensityGPerCM3.Value > 0) {
		return 0, false
	}
	return 6e5 * currentAPerCM2 * e / (FaradayCPerMol * m.DensityGPerCM3.Value), true
}

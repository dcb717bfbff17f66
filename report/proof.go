package report
import "skinstock/offset/verify"
func composeProof(p *verify.Proof) *Verify { return &Verify{} }

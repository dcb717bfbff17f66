package report

// Cautions stand in every report. They name hazards and where to look; they
// are no instructions.
var Cautions = []string{
	"High voltage: these baths run at direct voltages far above touch-safe limits. Only qualified people, under the local electrical code, with interlocks, isolation and earth-fault protection.",
	"Hot, corrosive electrolyte, steam and spatter; fluoride salts can give hydrogen fluoride. Follow the safety data sheet of every chemical; have the trained first aid it asks for in place before work.",
	"Hydrogen forms: ventilate and keep ignition away. Titanium alloys can take up hydrogen: check the part after treatment.",
	"Titanium powder and fines burn: remove trapped powder before any bath or heating, follow the local rules for combustible metals.",
	"Figures marked assumed were not measured on your machine or bath. Size, time and fatigue figures are estimates for planning, never a release of the part.",
}

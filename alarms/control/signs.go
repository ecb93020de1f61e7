package control

// Sign is what shows together with a verdict; signs add up.
type Sign uint32

// Signs. The caller knows the first ones, a Judge the others: see Signs.
const (
	FeedLost            Sign = 1 << iota // the drive's circuit is told as lost
	OneOutletLikeHouse                   // air of one depth of the loop is like the house's, of another not
	AllOutletsLikeHouse                  // of every depth
	DrawsNothing                         // a current or power is known and shows standing
	DrawsUsually                         // what a running drive usually draws
	DrawsTooMuch
	DrawsTooLittle
	ContactMade    // a contact is known and shows running
	ContactOpen    // a contact is known and shows standing
	CompanionStill // a drive that must run with it stands: the shutter of a fan is shut
	DriverStill    // all drives that need it stand: the fan of a shutter
	Frost          // it is below Frosty outside
	NeedsAir       // the house is warmer than where cooling ends, or how warm is not known
	NeedsWarmth    // it is colder than where heating ends, or frosty outside
	Timed          // a timer of its own has it
	DrawsFar       // more than farOver of what is usual at most
	Covered        // the caller knows that its vent is covered
)

// farOver is the part of the highest usual draw beyond which a motor is taken to
// be held and not only to labour (common practice, no source: a shaded-pole
// motor that is held draws one and a half to twice as much, others several times).
const farOver = 1.25

// Observed is a verdict about a kind of drive and what shows with it.
type Observed struct {
	Kind  FindingKind
	Drive DriveKind
	Signs Sign
}

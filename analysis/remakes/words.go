package remakes

func (f *FaultFinding) say(d FaultsDocument) {}

"""Tool for people who build DC power supplies: propose, prove, make, measure, mend."""

"""From a need to sized, proved candidates, compared side by side."""

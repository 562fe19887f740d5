"""Version control: what git is told to call, how a dump is shown to it, merged, and its history."""

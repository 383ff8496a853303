"""What a person sees and hears at the bench: screens, plain lines, keys, the bell."""

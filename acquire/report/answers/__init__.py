"""What a trial says: who is ahead, what it rests on, what is left out, how people rated."""

"""What a sheet does not know yet: estimates from what can be measured, questions, and what each unknown costs."""

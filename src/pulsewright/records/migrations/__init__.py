"""Steps from every older form of the store to the present one, run by Alembic."""

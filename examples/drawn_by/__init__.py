"""The script that drew the example orders, kept so that they can be changed and drawn again."""

from witnessmark.model import *
async def test_x(sit_down, opening):
    async with sit_down(opening) as sitting:
        await sitting.press("r", "ctrl+f")
        print(sitting.cursor_in)
        await sitting.press("right","tab","left","left","enter")
        print(sitting.cursor_in)
        for x in ("15","0","80"):
            await sitting.type(x); await sitting.press("enter"); print(sitting.cursor_in)
        await sitting.press("ctrl+n")
        print(sitting.text)

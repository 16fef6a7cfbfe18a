// An own day as short as a usual kit needs: from "My own day" to "Work it out", no typing. Gives the count of taps.
export async function tapOwnDay(page) {
  let taps = 0;
  const tap = async (what) => {
    taps += 1;
    await what.click();
  };
  const button = (name) => page.getByRole('button', { name, exact: true });
  await tap(button('My own day'));
  await tap(page.locator('.tile').first());
  await tap(page.locator('.tile').first());
  await tap(button('Next'));
  await tap(page.locator('.tile').first());
  await tap(button('Next'));
  for (let k = 0; k < 3; ++k) await tap(page.locator('.pair .tile').first());
  await tap(button('Next'));
  await tap(page.locator('.tile').first());
  await tap(button('Next'));
  await tap(button('Work it out'));
  return taps;
}

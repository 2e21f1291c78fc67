// Keeps the screen on while the page is looked at. Browsers allow that on this machine and over https only.

const UNABLE = "This browser may let the screen go dark here: set it to stay on.";
const REFUSED = "The screen may go dark: the device saves power.";

export function keepAwake(say) {
  if (!("wakeLock" in navigator)) {
    say(UNABLE);
    return;
  }
  let held = null;
  const hold = async () => {
    if (document.visibilityState !== "visible" || held) return;
    try {
      held = await navigator.wakeLock.request("screen");
      held.addEventListener("release", () => { held = null; });
      say("");
    } catch {
      say(REFUSED);
    }
  };
  document.addEventListener("visibilitychange", hold);
  addEventListener("pageshow", hold);
  setInterval(hold, 20000); // the system may take it back, as when the battery is low
  hold();
}

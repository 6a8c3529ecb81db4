// Local wall-clock times, "2026-03-01T08:30", as the files hold them: no zone, to the minute.

const two = (n) => String(n).padStart(2, "0");
const wallDate = (d) => `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`;
const wall = (d) => `${wallDate(d)}T${two(d.getHours())}:${two(d.getMinutes())}`;

function fromWall(text) {
  const found = /^(\d{4})-(\d\d)-(\d\d)(?:T(\d\d):(\d\d))?(?::\d\d)?$/.exec(text);
  if (!found) return null;
  const [y, mo, d, h, mi] = found.slice(1).map((part) => Number(part ?? 0));
  return { y, mo, d, h, mi, instant: new Date(y, mo - 1, d, h, mi) };
}

// A time that a clock going forward left out comes back from Date as another time.
function isMissing(text) {
  const time = fromWall(text);
  return time !== null && wall(time.instant) !== text.slice(0, 16);
}

// A time that a clock going back made double names two instants, at most an hour apart.
function isDouble(text) {
  const time = fromWall(text);
  if (time === null) return false;
  const at = time.instant.getTime();
  return [-60, -30, 30, 60].some((minutes) => wall(new Date(at + minutes * 60000)) === text.slice(0, 16));
}

const addDays = (date, n) => {
  const { y, mo, d } = fromWall(date);
  return wallDate(new Date(y, mo - 1, d + n, 12));
};
const dayNumber = (date) => {
  const { y, mo, d } = fromWall(date);
  return Math.round(Date.UTC(y, mo - 1, d) / 86400000);
};
// What is written before four in the morning closes the day before.
const diaryDay = (text) => (Number(text.slice(11, 13)) < DATA.night_ends_h ? addDays(text.slice(0, 10), -1) : text.slice(0, 10));
const partOfDay = (text) => {
  const hour = Number(text.slice(11, 13)) + Number(text.slice(14, 16)) / 60;
  if (hour < DATA.night_ends_h || hour >= DATA.parts_start_h[1]) return "evening";
  return hour < DATA.parts_start_h[0] ? "morning" : "midday";
};
const spoken = (date, weekday = "long") => fromWall(date).instant.toLocaleDateString("en-GB", { weekday, day: "numeric", month: "long", year: "numeric" });
const shortDay = (date) => fromWall(date).instant.toLocaleDateString("en-GB", { day: "numeric", month: "short" });

// Offers the phone's own time zone while none was chosen.
"use strict";
const zone = document.getElementById("f-time_zone");
if (zone && !zone.value) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";

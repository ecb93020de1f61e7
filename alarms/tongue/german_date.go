package tongue

// germanDate has days, months and how dates are written.
var germanDate = map[Text]string{
	"Sunday": "Sonntag", "Monday": "Montag", "Tuesday": "Dienstag", "Wednesday": "Mittwoch", "Thursday": "Donnerstag", "Friday": "Freitag", "Saturday": "Samstag",
	"Sun": "So", "Mon": "Mo", "Tue": "Di", "Wed": "Mi", "Thu": "Do", "Fri": "Fr", "Sat": "Sa",
	"January": "Januar", "February": "Februar", "March": "März", "April": "April", "May|a month": "Mai", "June": "Juni", "July": "Juli", "August": "August",
	"September": "September", "October": "Oktober", "November": "November", "December": "Dezember",
	"Jan": "Jan", "Feb": "Feb", "Mar": "März", "Apr": "Apr", "Jun": "Juni", "Jul": "Juli", "Aug": "Aug", "Sep": "Sep", "Oct": "Okt", "Nov": "Nov", "Dec": "Dez",
	"15:04 on Monday 2 January": "15:04 am Monday, 2. January",
}

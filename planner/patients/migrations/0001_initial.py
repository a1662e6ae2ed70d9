import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('practice', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HistoryForm',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('signed_on', models.DateField(null=True)),
                ('signed_by', models.CharField(blank=True, max_length=200)),
                ('facts', models.JSONField(default=dict)),
                ('at', models.DateTimeField()),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('patient', 'id'),
            },
        ),
        migrations.CreateModel(
            name='AnyChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('asked_on', models.DateField()),
                ('changed', models.BooleanField()),
                ('note', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('form', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='patients.historyform')),
            ],
            options={
                'ordering': ('form', 'id'),
            },
        ),
        migrations.CreateModel(
            name='Patient',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('name', models.CharField(max_length=200)),
                ('sort_key', models.CharField(max_length=200)),
                ('birth_date', models.DateField()),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('language', models.CharField(default='en', max_length=2)),
                ('print_points', models.PositiveSmallIntegerField(default=11)),
                ('contact_consent', models.BooleanField(null=True)),
                ('stop_all', models.BooleanField(default=False)),
                ('sex', models.CharField(blank=True, max_length=5)),
                ('can_decide_alone', models.BooleanField(default=True, null=True)),
                ('decision_maker', models.CharField(blank=True, max_length=200)),
                ('own_agreement', models.BooleanField(null=True)),
                ('created_at', models.DateTimeField()),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='patients', to='practice.office')),
            ],
            options={
                'ordering': ('sort_key', 'id'),
                'indexes': [models.Index(fields=['office', 'sort_key', 'id'], name='patient_by_name'), models.Index(fields=['office', 'birth_date', 'sort_key', 'id'], name='patient_by_birth_date')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('name', ''), _negated=True), models.Q(('sort_key', ''), _negated=True)), name='patient_named'), models.CheckConstraint(condition=models.Q(('language__in', ('en', 'es'))), name='patient_language_known'), models.CheckConstraint(condition=models.Q(('print_points__in', (11, 14, 18, 24))), name='patient_print_size_known'), models.CheckConstraint(condition=models.Q(('sex__in', ('', 'woman', 'man'))), name='patient_sex_known')],
            },
        ),
        migrations.CreateModel(
            name='NameWord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('word', models.CharField(max_length=200)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='words', to='patients.patient')),
            ],
            options={
                'indexes': [models.Index(fields=['office', 'word', 'patient'], name='name_word_search')],
                'constraints': [models.UniqueConstraint(fields=('patient', 'word'), name='name_word_once')],
            },
        ),
        migrations.AddField(
            model_name='historyform',
            name='patient',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='histories', to='patients.patient'),
        ),
        migrations.CreateModel(
            name='Examination',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('status', models.CharField(choices=[('draft', 'Draft'), ('confirmed', 'Confirmed'), ('used', 'Used')], default='draft', max_length=10)),
                ('on', models.DateField()),
                ('by', models.CharField(blank=True, max_length=200)),
                ('instrument', models.CharField(choices=[('caliper', 'Caliper'), ('scan', 'Scan'), ('film', 'Film')], default='caliper', max_length=10)),
                ('film_factor_percent', models.PositiveSmallIntegerField(null=True)),
                ('confirmed_by', models.CharField(blank=True, max_length=200)),
                ('midline_offset', models.SmallIntegerField(default=0)),
                ('strip_length', models.PositiveSmallIntegerField(null=True)),
                ('gums', models.JSONField(default=dict)),
                ('decay', models.JSONField(default=dict)),
                ('bite', models.JSONField(default=dict)),
                ('colour', models.JSONField(default=dict)),
                ('growth', models.JSONField(default=dict)),
                ('orthodontics', models.JSONField(default=dict)),
                ('at', models.DateTimeField()),
                ('corrects', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='patients.examination')),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='examinations', to='patients.patient')),
            ],
            options={
                'ordering': ('patient', '-on', '-id'),
                'indexes': [models.Index(fields=['patient', '-on', '-id'], name='examination_newest')],
                'constraints': [models.CheckConstraint(condition=models.Q(('status__in', ['draft', 'confirmed', 'used'])), name='examination_status_known'), models.CheckConstraint(condition=models.Q(('instrument__in', ['caliper', 'scan', 'film'])), name='examination_instrument_known'), models.CheckConstraint(condition=models.Q(('status', 'draft'), models.Q(('confirmed_by', ''), _negated=True), _connector='OR'), name='examination_confirmed_by_somebody')],
            },
        ),
        migrations.CreateModel(
            name='PictureReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('kind', models.CharField(max_length=20)),
                ('on', models.DateField()),
                ('reader', models.CharField(blank=True, max_length=200)),
                ('absent', models.JSONField(default=list)),
                ('roots_of', models.JSONField(default=list)),
                ('reading', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('corrects', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='patients.picturereading')),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pictures', to='patients.patient')),
            ],
            options={
                'ordering': ('patient', 'on', 'id'),
                'indexes': [models.Index(fields=['patient', 'on', 'id'], name='picture_by_patient')],
            },
        ),
        migrations.CreateModel(
            name='PlaceReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField()),
                ('place', models.CharField(max_length=60)),
                ('crown_distance', models.PositiveSmallIntegerField(null=True)),
                ('root_distance', models.PositiveSmallIntegerField(null=True)),
                ('ridge_thickness', models.PositiveSmallIntegerField(null=True)),
                ('height_to_bite', models.PositiveSmallIntegerField(null=True)),
                ('measured_with', models.CharField(blank=True, max_length=10)),
                ('film_factor_percent', models.PositiveSmallIntegerField(null=True)),
                ('examination', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='empty_places', to='patients.examination')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('examination', 'position'),
                'constraints': [models.UniqueConstraint(fields=('examination', 'place'), name='place_once'), models.UniqueConstraint(fields=('examination', 'position'), name='place_position_once'), models.CheckConstraint(condition=models.Q(models.Q(('crown_distance__isnull', True), ('crown_distance__lte', 400), _connector='OR'), models.Q(('root_distance__isnull', True), ('root_distance__lte', 400), _connector='OR'), models.Q(('ridge_thickness__isnull', True), ('ridge_thickness__lte', 400), _connector='OR'), models.Q(('height_to_bite__isnull', True), ('height_to_bite__lte', 400), _connector='OR')), name='place_lengths_in_a_mouth'), models.CheckConstraint(condition=models.Q(('measured_with__in', ('', 'caliper', 'scan', 'film'))), name='place_tool_known')],
            },
        ),
        migrations.CreateModel(
            name='ToothReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField()),
                ('tooth', models.CharField(max_length=60)),
                ('place', models.CharField(blank=True, max_length=60)),
                ('role', models.CharField(blank=True, max_length=10)),
                ('width', models.PositiveSmallIntegerField(null=True)),
                ('width_again', models.PositiveSmallIntegerField(null=True)),
                ('length', models.PositiveSmallIntegerField(null=True)),
                ('length_again', models.PositiveSmallIntegerField(null=True)),
                ('neck_width', models.PositiveSmallIntegerField(null=True)),
                ('contact_height', models.PositiveSmallIntegerField(null=True)),
                ('findings', models.JSONField(default=dict)),
                ('examination', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='teeth', to='patients.examination')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('examination', 'position'),
                'constraints': [models.UniqueConstraint(fields=('examination', 'tooth'), name='tooth_read_once'), models.UniqueConstraint(fields=('examination', 'position'), name='tooth_position_once'), models.CheckConstraint(condition=models.Q(models.Q(('width__isnull', True), ('width__lte', 400), _connector='OR'), models.Q(('width_again__isnull', True), ('width_again__lte', 400), _connector='OR'), models.Q(('length__isnull', True), ('length__lte', 400), _connector='OR'), models.Q(('length_again__isnull', True), ('length_again__lte', 400), _connector='OR'), models.Q(('neck_width__isnull', True), ('neck_width__lte', 400), _connector='OR'), models.Q(('contact_height__isnull', True), ('contact_height__lte', 400), _connector='OR')), name='tooth_lengths_in_a_mouth')],
            },
        ),
        migrations.CreateModel(
            name='AbsentReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField()),
                ('tooth', models.CharField(max_length=60)),
                ('cause', models.CharField(max_length=20)),
                ('lost_on', models.DateField(null=True)),
                ('palpation_note', models.TextField(blank=True)),
                ('felt', models.BooleanField(null=True)),
                ('localised', models.BooleanField(null=True)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('examination', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='absent', to='patients.examination')),
            ],
            options={
                'ordering': ('examination', 'position'),
                'constraints': [models.UniqueConstraint(fields=('examination', 'tooth'), name='absent_once'), models.UniqueConstraint(fields=('examination', 'position'), name='absent_position_once')],
            },
        ),
        migrations.CreateModel(
            name='GapReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField()),
                ('first', models.CharField(max_length=60)),
                ('second', models.CharField(max_length=60)),
                ('width', models.PositiveSmallIntegerField()),
                ('width_again', models.PositiveSmallIntegerField(null=True)),
                ('film', models.CharField(blank=True, max_length=5)),
                ('may_stay', models.BooleanField(default=False)),
                ('new_or_growing', models.BooleanField(null=True)),
                ('contact_to_bone', models.PositiveSmallIntegerField(null=True)),
                ('examination', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='gaps', to='patients.examination')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('examination', 'position'),
                'constraints': [models.UniqueConstraint(fields=('examination', 'first', 'second'), name='gap_read_once'), models.UniqueConstraint(fields=('examination', 'position'), name='gap_position_once'), models.CheckConstraint(condition=models.Q(('film__in', ('', 'tight', 'film'))), name='gap_film_known'), models.CheckConstraint(condition=models.Q(models.Q(('width__isnull', True), ('width__lte', 400), _connector='OR'), models.Q(('width_again__isnull', True), ('width_again__lte', 400), _connector='OR'), models.Q(('contact_to_bone__isnull', True), ('contact_to_bone__lte', 400), _connector='OR')), name='gap_lengths_in_a_mouth')],
            },
        ),
        migrations.AddIndex(
            model_name='historyform',
            index=models.Index(fields=['patient', '-id'], name='history_newest'),
        ),
    ]
